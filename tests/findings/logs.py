"""Simulated logs, whole or with lines taken away, and their health; the truth is the simulator's."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from whorlpulse.actions.health import check_health
from whorlpulse.actions.recording import read_recording
from whorlpulse.findings.health import ChannelHealth, HealthReport
from whorlpulse.findings.report import Finding
from whorlpulse.rig import Rig
from whorlpulse.simulate import Board, LineFaults, Scenario, Sensor, scenario, simulate

FOUR = (0.0, 0.25, 0.5, 0.75)


def health(log: bytes, targets: Mapping[str, int] | None = None) -> HealthReport:
    """Return the health of a log, its own header saying what the rig is, but for targets."""
    recording = read_recording(lambda: [log], "test.pulses")
    header = recording.log.header
    rig = Rig(header.tick_hz, header.tick_bits, {**header.targets, **(targets or {})})
    return check_health(recording, rig)


def log_of(case: Scenario, seed: int) -> bytes:
    return simulate(case, seed).log


def with_faults(name: str, **faults: object) -> Scenario:
    return replace(scenario(name), line_faults=LineFaults(**faults))


def with_sensors(name: str, *sensors: Sensor) -> Scenario:
    return replace(scenario(name), sensors=sensors)


def bare(name: str = "steady") -> Scenario:
    """Lines without number or checksum, so that taking some away leaves no trace but their absence."""
    return replace(scenario(name), board=Board(numbered=False, checksum=False))


def keep_lines(log: bytes, wanted: Callable[[str, float], bool]) -> bytes:
    """Keep the `#` lines, and those pulse lines that are wanted by letter and seconds on the board's clock."""
    kept = []
    for line in log.splitlines(keepends=True):
        letter, _, rest = line.partition(b",")
        if line.startswith(b"#") or wanted(letter.decode(), int(rest.split(b",")[0].split(b"*")[0]) / 1e6):
            kept.append(line)
    return b"".join(kept)


def ids(report: HealthReport) -> list[str]:
    return [f.id for f in report.findings]


def the(report: HealthReport, key: str) -> Finding:
    """Return the one finding with that id; fails when there is none, or several."""
    found = [f for f in report.findings if f.id == key]
    assert len(found) == 1, (key, ids(report))
    return found[0]


def channel(report: HealthReport, letter: str) -> ChannelHealth:
    return next(c for c in report.channels if c.letter == letter)
