"""What pyproject.toml can't say: the sample captures go into the wheel, from the folder where readers find them."""

from pathlib import Path
from shutil import copy2

from setuptools import setup
from setuptools.command.build_py import build_py

SAMPLES = Path("sample-captures")


class BuildWithSamples(build_py):
    """Copies the samples to `whorlpulse/sample-captures`; an editable install reads them where they are."""

    def run(self) -> None:
        """Build as ever, then copy."""
        super().run()
        if self.editable_mode:
            return
        for file in sorted(p for p in SAMPLES.rglob("*") if p.is_file() and not p.name.startswith(".")):
            place = Path(self.build_lib) / "whorlpulse" / file
            place.parent.mkdir(parents=True, exist_ok=True)
            copy2(file, place)


setup(cmdclass={"build_py": BuildWithSamples})
