"""A simulated capture as a folder: log, truth, wheel and plan files, and a page that says what it is."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from whorlpulse.findings.catalogue import sentence
from whorlpulse.sources.files import SourceError, reason, shown, write_new

if TYPE_CHECKING:
    from whorlpulse.simulate import Capture


def write_capture(folder: str, capture: Capture, *, replace: bool) -> list[str]:
    """Write the capture's files into `folder`, made if need be, and return their names.

    Without replace nothing is written when one of them is there already (SourceError).
    """
    place, files = Path(folder), capture_files(capture)
    there = [name for name in files if (place / name).exists()]
    if there and not replace:
        raise SourceError(sentence("folder-in-use").format(folder=shown(folder), file=there[0]))
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise SourceError(sentence("no-folder").format(folder=shown(folder), why=reason(fault))) from fault
    for name, data in files.items():
        write_new(place / name, data, replace=replace)
    return list(files)


def capture_files(capture: Capture) -> dict[str, bytes]:
    """Return the files of a capture: name and content."""
    truth = capture.truth
    files = {
        "log.pulses": capture.log,
        "truth.json": (json.dumps(truth.as_dict(), indent=2, allow_nan=False) + "\n").encode(),
    }
    if capture.wheel_toml is not None:
        files["wheel.toml"] = capture.wheel_toml.encode()
    if capture.plan_toml is not None:
        files["plan.toml"] = capture.plan_toml.encode()
    files["NOTES.md"] = _notes(capture).encode()
    return files


def _notes(capture: Capture) -> str:
    truth = capture.truth
    options = (" --wheel wheel.toml" if capture.wheel_toml else "") + (" --plan plan.toml" if capture.plan_toml else "")
    command = f"whorlpulse {'twist' if capture.plan_toml else 'ratio'} log.pulses{options}"
    return "\n".join(
        [
            f"# {truth.scenario.name}",
            "",
            "**Simulated.** No wheel, sensor or spinner was there: the wheel and the bench are invented.",
            "",
            f"{truth.scenario.says[:1].upper()}{truth.scenario.says[1:]}.",
            "",
            f"Made by `whorlpulse simulate {truth.scenario.name} --seed {truth.seed}`. `truth.json` says what really",
            "happened in the simulation; the log says what the sensors reported of it. Measure it with",
            "",
            f"    {command}",
            "",
        ]
    )
