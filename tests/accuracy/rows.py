"""The rows of the accuracy bars: each judges many simulated logs against their truth, and says how far off they were.

Errors are relative, in percent. "held" counts how many 95 % intervals had the truth in them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from tests.accuracy.trial import Trial, trial, true_ratio, true_total_ratio, true_twist_tpm

from whorlpulse.estimators.twist import against_plan
from whorlpulse.pulses import FLYER, WHEEL
from whorlpulse.simulate import Sensor, Stop, scenario

PLAN_TPM = 5.2 / 0.0254


@dataclass
class Row:
    """errors: percent. held, judged: intervals. faults: what else was asked for and not met, in words."""

    bar: float
    errors: list[float] = field(default_factory=list)
    held: int = 0
    judged: int = 0
    faults: list[str] = field(default_factory=list)

    def add(self, said, true: float) -> None:
        """Judge one value with its interval."""
        self.errors.append(100.0 * (said.value / true - 1.0))
        self.held += said.low <= true <= said.high
        self.judged += 1

    @property
    def worst(self) -> float:
        return float(np.abs(self.errors).max())


Seeds = Iterable[int]


def _each(name: str, seeds: Seeds, row: Row, judge: Callable[[Trial, Row, int], None]) -> Row:
    for seed in seeds:
        judge(trial(scenario(name), seed), row, seed)
    return row


def _whole(found: Trial, row: Row, seed: int) -> None:
    estimate = found.ratio()
    if estimate.ratio is None:
        row.faults.append(f"seed {seed}: no ratio")
        return
    row.add(estimate.ratio, true_total_ratio(found, estimate))


def clean(seeds: Seeds) -> Row:
    """Uneven real treadling, one target each."""
    return _each("steady", seeds, Row(0.02), _whole)


def faulty(seeds: Seeds) -> Row:
    """3 % missed, 2 % doubled flyer pulses, 5 % wheel bounce."""
    return _each("faulty-sensors", seeds, Row(0.05), _whole)


def bad_line(seeds: Seeds) -> Row:
    """Lost blocks, garbled lines, torn tail, wrap; each loss counted."""

    def judge(found: Trial, row: Row, seed: int) -> None:
        _whole(found, row, seed)
        said, true = found.tally, found.truth.lines
        counted = (said.lost, said.bad_checksum + said.malformed_lines, said.torn_tail)
        if counted != (true["lost"], true["garbled"], bool(true["torn"])):
            row.faults.append(f"seed {seed}: losses {counted}")

    return _each("bad-line", seeds, Row(0.05), judge)


def _runs(found: Trial, row: Row, seed: int, whorls: int) -> None:
    estimate = found.ratio()
    if len(estimate.runs) != 3 or len(estimate.whorls) != whorls:
        row.faults.append(f"seed {seed}: {len(estimate.runs)} runs, {len(estimate.whorls)} whorls")
    for run in estimate.runs:
        row.add(run.ratio, true_ratio(found, run))


def three_runs(seeds: Seeds) -> Row:
    """Three runs with stops and hand-rolling between."""
    return _each("three-runs", seeds, Row(0.05), lambda f, r, s: _runs(f, r, s, 1))


def three_whorls(seeds: Seeds) -> Row:
    """Three whorls in one log."""
    return _each("three-whorls", seeds, Row(0.05), lambda f, r, s: _runs(f, r, s, 3))


def coarse_clock(seeds: Seeds) -> Row:
    """16-bit clock at 1024 Hz, cumulative counts once a second."""
    return _each("coarse-clock", seeds, Row(0.1), _whole)


def uneven_magnets(seeds: Seeds) -> Row:
    """Four wheel magnets up to 20 degrees off, the flyer's two at 168 and 192."""

    def judge(found: Trial, row: Row, seed: int) -> None:
        _whole(found, row, seed)
        for channel, letter in ((WHEEL, "w"), (FLYER, "f")):
            true = np.array(found.truth.scenario.sensor(letter).angles)
            said = found.conditioned.angles[channel].angle
            turned = (np.sort((np.roll(true, -k) - true[k]) % 1.0) for k in range(len(true)))
            off = 360.0 * min(float(np.abs(t - said).max()) for t in turned)
            if off > 1.0:
                row.faults.append(f"seed {seed}: an angle of {letter} is {off:.1f} degrees off")

    return _each("uneven-magnets", seeds, Row(0.02), judge)


def _twist(found: Trial, row: Row, _seed: int) -> None:
    said = found.twist()
    row.add(said.twist, true_twist_tpm(found.truth, said))


def twist_roller(seeds: Seeds) -> Row:
    """Mean twist, length from a roller with four targets."""
    return _each("skein-on-plan", seeds, Row(0.5), _twist)


def twist_marks(seeds: Seeds) -> Row:
    """Mean twist, length from the spinner's lines."""
    return _each("skein-marks", seeds, Row(0.5), _twist)


def soft_stretch(seeds: Seeds) -> Row:
    """1.4 m at 3.3 tpi in a yarn of 5.2 tpi: found, both ends within 0.3 m (errors: the ends', in cm for percent)."""

    def judge(found: Trial, row: Row, seed: int) -> None:
        (true,) = found.truth.off_plan
        stretches = against_plan(found.twist(), PLAN_TPM, 0.1).off_plan
        soft = [s for s in stretches if s.verdict == "under"]
        if len(soft) != 1:
            row.faults.append(f"seed {seed}: {len(soft)} soft stretches")
            return
        row.errors += [100.0 * (soft[0].from_m - true.from_m), 100.0 * (soft[0].to_m - true.to_m)]

    return _each("skein-soft", seeds, Row(30.0), judge)


def efficiency(seeds: Seeds, jitter_s: float = 3e-4) -> tuple[float, float]:
    """Mean square error of the ratio without slip: over that of the best straight line, and the line's over the bound.

    The line is an oracle, told that there is no slip; it attains 12σ²/(N(N+1)(N+2)) for N steps of noise σ, which is
    taken from the truth (measured flyer turns at the wheel's passages less the true ones).
    """
    case = replace(
        scenario("steady"),
        motion="kinematic",
        sensors=(Sensor("w", jitter_s=jitter_s), Sensor("f", jitter_s=jitter_s)),
    )
    case = replace(case, phases=tuple(p for p in case.phases if not isinstance(p, Stop)))
    ours, line, bound = [], [], []
    for seed in seeds:
        found = trial(case, seed)
        (run,) = found.ratio().runs
        (stretch,) = found.conditioned.stretches
        inside = (stretch.wheel.t_s >= run.start_s) & (stretch.wheel.t_s <= run.end_s)
        y, true = _passages(found, stretch.wheel.t_s[inside])
        n = len(y) - 1
        noise = float(np.var(y - true, ddof=1))
        r = true_ratio(found, run)
        ours.append((run.ratio.value - r) ** 2)
        line.append((np.polyfit(np.arange(n + 1), y, 1)[0] - r) ** 2)
        bound.append(12 * noise / (n * (n + 1) * (n + 2)))
    return float(np.mean(ours) / np.mean(line)), float(np.mean(line) / np.mean(bound))


def _passages(found: Trial, t_s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return measured and true flyer turns (n,) at the wheel passages reported at t_s (n,)."""
    from whorlpulse.phase import turns_at

    (stretch,) = found.conditioned.stretches
    y = turns_at(stretch.flyer, found.conditioned.angles[FLYER], t_s)
    passages = found.truth.passages_s("w")
    nearest = passages[np.abs(passages[:, None] - t_s).argmin(axis=0)]
    return y, found.truth.flyer_turns_at(nearest)


ROWS: Mapping[str, Callable[[Seeds], Row]] = {
    "clean 90 s log": clean,
    "missed, doubled, bounced": faulty,
    "lost, garbled, torn, wrap": bad_line,
    "three runs": three_runs,
    "three whorls": three_whorls,
    "coarse clock, counts": coarse_clock,
    "uneven magnets": uneven_magnets,
    "twist by roller": twist_roller,
    "twist by lines": twist_marks,
    "soft stretch, ends in cm": soft_stretch,
}
