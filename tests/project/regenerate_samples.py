"""Make `sample-captures/` anew from the simulator: `python tests/project/regenerate_samples.py`."""

from __future__ import annotations

import sys
from pathlib import Path

from sample_pages import notes, overview
from samples import SEED, Sample, samples

from whorlpulse.cli.capture_folder import capture_files
from whorlpulse.simulate import Capture, simulate

FOLDER = Path(__file__).resolve().parents[2] / "sample-captures"


def made() -> dict[str, tuple[Sample, Capture]]:
    """Return every sample with its capture, simulated now (some ten seconds)."""
    return {name: (sample, simulate(sample.scene(name), SEED)) for name, sample in samples().items()}


def files_of(name: str, sample: Sample, capture: Capture) -> dict[str, bytes]:
    """Return the files of one folder by name."""
    return {**capture_files(capture), "NOTES.md": notes(name, sample, capture).encode()}


def main() -> int:
    """Write everything; folders that are no sample any more are named, not removed."""
    captures = made()
    for name, (sample, capture) in captures.items():
        place = FOLDER / name
        place.mkdir(parents=True, exist_ok=True)
        for file, data in files_of(name, sample, capture).items():
            (place / file).write_bytes(data)
    (FOLDER / "README.md").write_text(overview(captures), encoding="utf-8")
    strangers = sorted(p.name for p in FOLDER.iterdir() if p.is_dir() and p.name not in captures)
    if strangers:
        sys.stderr.write(f"not made here, remove by hand: {', '.join(strangers)}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
