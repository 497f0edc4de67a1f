"""What `slip` finds on 1000 simulated wheels with known faults, and how often it is right: docs/slip-confusion.md.

    python tests/accuracy/slip_grid.py [HOW_MANY]

takes a few minutes on two processors, prints the page and writes it.
"""

from __future__ import annotations

import os
import sys
from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Final

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(Path(__file__).resolve().parent), str(ROOT / "logger")]

from slip_wheels import FAULTS, Wheel, wheel  # noqa: E402

from whorlpulse.actions.measure_slip import measure_slip, reference_ratios  # noqa: E402
from whorlpulse.actions.recording import Recording, read_recording  # noqa: E402
from whorlpulse.cli.inputs import Given, rig_of  # noqa: E402
from whorlpulse.simulate import Truth, simulate  # noqa: E402

PAGE: Final = ROOT / "docs" / "slip-confusion.md"
WHEELS: Final = 1000
#: A slack band that never let go.
HELD: Final = "slack band that held"
NOTHING, TOO_LITTLE = "nothing said", "too little data"
#: Findings that are no diagnosis.
_BESIDE: Final = frozenset({"slip-undecided", "double-drive"})
#: Bursts of so many flyer turns are some; the band gives less when its load changes.
LEAST_LOST: Final = 0.1
#: A band that slides for so long makes no burst but a slide; one under which the flyer stood slid for so long.
LONG_S, STOOD_S = 2.0, 10.0
#: Bounds of the confidences that are judged together.
BINS: Final = ((0.0, 0.45), (0.45, 0.65), (0.65, 0.775), (0.775, 0.875), (0.875, 0.925), (0.925, 0.975), (0.975, 1.0))


@dataclass(frozen=True)
class Said:
    """One finding of one wheel: its id, confidence, and whether it is so."""

    id: str
    confidence: float
    right: bool


@dataclass(frozen=True)
class Judged:
    """One wheel: its fault, the leading finding, and all that was said."""

    number: int
    fault: str
    leading: str
    said: tuple[Said, ...]


def judge(number: int) -> Judged:
    """Simulate wheel `number`, measure its slip, and hold the findings against the truth."""
    made = wheel(number)
    capture = simulate(made.case, made.seed)
    recording = _recording(made.log(capture.log))
    rig, _ = rig_of(recording, Given(), needs_length=False)
    references = []
    if made.reference == "slow log":
        slow = _recording(simulate(made.slow(), made.seed + 1_000_000).log)
        references, _ = reference_ratios(slow, rig_of(slow, Given(), needs_length=False)[0])
    report = measure_slip(recording, made.onto(rig), references)
    if report.cannot_say is not None and report.cannot_say.key in ("few-turns", "few-turns-no-pace"):
        return Judged(number, made.fault, TOO_LITTLE, (Said(TOO_LITTLE, 1.0, made.fault == "too short"),))
    so = right_ids(made, capture.truth)
    said = tuple(Said(f.id, f.confidence, f.id in so) for f in report.findings if f.id not in _BESIDE)
    leading = max(said, key=lambda s: s.confidence, default=None)
    fault = HELD if made.fault == "slack band" and "slip-bursts" not in so else made.fault
    return Judged(number, fault, leading.id if leading is not None else NOTHING, said)


def _recording(log: bytes) -> Recording:
    return read_recording(lambda: [log], "grid")


def right_ids(made: Wheel, truth: Truth) -> frozenset[str]:
    """The findings that are so, by what was simulated."""
    rhythm = made.case.band.periodic
    creep_percent = truth.creep_percent - 100.0 * sum(p.mean for p in rhythm)
    bursts = any(b.lost_turns >= LEAST_LOST for b in truth.bursts)
    so = {
        "slip-bursts": bursts,
        "band-slides": any(b.end_s - b.start_s >= LONG_S for b in truth.bursts),
        "flyer-stood": any(b.end_s - b.start_s >= STOOD_S for b in truth.bursts),
        "band-creeps": creep_percent >= 1.0,
        "drag": made.fault in ("drag", "slack band"),
        "band-joint": made.fault == "bad joint",
        "periodic-loss": made.fault == "bad joint",
        "wheel-untrue": made.fault == "wheel out of true",
        "reference-off": made.fault == "reference off",
        "missed-pulses": made.fault == "missing pulses",
        "extra-pulses": made.fault == "doubled pulses",
        "flyer-went-silent": made.fault == "sensor cuts out",
        "wheel-targets": made.fault == "wrong wheel targets",
        "flyer-targets": made.fault == "wrong flyer targets",
        "ratio-unlikely": made.targets is not None,
        "band-healthy": not (bursts or rhythm or creep_percent >= 2.0 or made.targets),
    }
    return frozenset(key for key, true in so.items() if true)


def judged(numbers: Iterable[int], workers: int = 1) -> list[Judged]:
    """Judge these wheels, on so many processors."""
    if workers == 1:
        return [judge(n) for n in numbers]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(judge, numbers, chunksize=8))


def reliability(found: Sequence[Judged]) -> list[tuple[float, float, int, int]]:
    """For each range of confidences: its bounds, how many findings were said in it, and how many are right."""
    said = [s for j in found for s in j.said if s.id != TOO_LITTLE]
    rows = []
    for low, high in BINS:
        mine = [s for s in said if low <= s.confidence < high or (high == 1.0 and s.confidence == 1.0)]
        rows.append((low, high, len(mine), sum(s.right for s in mine)))
    return rows


def by_finding(found: Sequence[Judged]) -> list[tuple[str, float, int, int]]:
    """For each finding and confidence, rounded to 0.05: how often it was said, and how often it is right."""
    counts: Counter[tuple[str, float]] = Counter()
    right: Counter[tuple[str, float]] = Counter()
    for j in found:
        for s in j.said:
            key = (s.id, round(20.0 * s.confidence) / 20.0)
            counts[key] += 1
            right[key] += s.right
    return [(key[0], key[1], n, right[key]) for key, n in sorted(counts.items())]


def page(found: Sequence[Judged], others: Sequence[Judged]) -> str:
    """The page: confusion table, reliability in the grid and in others, and each finding by itself."""
    parts = (_about(found), _confusion(found), _reliability(found, others), _each(found))
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _about(found: Sequence[Judged]) -> list[str]:
    return [
        "# What slip finds, and how often it is right",
        "",
        f"Simulated wheels only: {len(found)}, each with one known fault or none, all faults equally often; whorl,",
        "cadence, feet, targets (1 or 4 on the wheel, set evenly or by hand; 1 or 2 on the flyer), jitter, yarn,",
        "band and what is known of it drawn at random (tests/accuracy/slip_wheels.py). Half are held against a wheel",
        "file's ratio that is 0.05 to 0.3 % unsure, a quarter against a slow log, a quarter against nothing. No real",
        "wheel is in here, and real faults come neither alone nor equally often: read the confidences as odds among",
        "these faults.",
        "",
        "A finding is right when what it claims was so in the simulation: the band let go by 0.1 turns or more, it",
        "creeps by 1 % or more, a rhythm was put in; a band is in order that does not let go, has no rhythm and creeps",
        'by less than 2 %. The confidences were set by these wheels; "in others" are as many more, drawn the same way,',
        "which had no part in that.",
        "",
        "Made by `python tests/accuracy/slip_grid.py`.",
        "",
        "## True fault and leading finding",
        "",
        "The leading finding is the one said with most confidence.",
    ]


def _confusion(found: Sequence[Judged]) -> list[str]:
    leading = Counter((j.fault, j.leading) for j in found)
    columns = [c for c, _ in Counter(j.leading for j in found).most_common()]
    head = f"| true fault | wheels | {' | '.join(columns)} |"
    lines = [head, f"| --- | ---: |{' ---: |' * len(columns)}"]
    for fault in (*FAULTS, HELD):
        wheels = sum(j.fault == fault for j in found)
        cells = [str(leading[fault, c] or "") for c in columns]
        lines.append(f"| {fault} | {wheels} | {' | '.join(cells)} |")
    return lines


def _reliability(found: Sequence[Judged], others: Sequence[Judged]) -> list[str]:
    lines = [
        "## Confidence said, and share that is right",
        "",
        "All findings, not only leading ones; information that is no diagnosis is left out.",
        "",
        "| said | findings | right | in others | right |",
        "| --- | ---: | ---: | ---: | ---: |",
    ]
    for (low, high, n, right), (_, _, m, also) in zip(reliability(found), reliability(others), strict=True):
        lines.append(f"| {low:g} to {high:g} | {n} | {_share(right, n)} | {m} | {_share(also, m)} |")
    return lines


def _share(right: int, n: int) -> str:
    return f"{100.0 * right / n:.0f} %" if n else "–"


def _each(found: Sequence[Judged]) -> list[str]:
    lines = ["## Each finding", "", "| finding | said at | times | right |", "| --- | ---: | ---: | ---: |"]
    for key, confidence, n, right in by_finding(found):
        lines.append(f"| {key} | {confidence:.2f} | {n} | {_share(right, n)} |")
    return lines


def main(words: Sequence[str]) -> None:
    """Judge the grid and as many other wheels, print the page and, for the whole grid, write it."""
    how_many = int(words[0]) if words else WHEELS
    workers = min(2, os.cpu_count() or 1)
    text = page(judged(range(how_many), workers), judged(range(how_many, 2 * how_many), workers))
    print(text)
    if how_many == WHEELS:
        PAGE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
