"""The cells of the published grid: what is simulated in each. One thing is changed at a time, then the hard pairs.

The plain wheel: kinematic (a prescribed motion and a flyer at exactly the ratio, less the slip noise), 60 turns a
minute for 60 s, one foot that makes the speed swing by 10 %, ratio near 8.4 but never whole, one target each, jitter
200 µs, no slip. Within a cell every log has its own start angles, mood of the foot and, where the cell does not fix it,
a ratio of its own (within 3 %).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from zlib import crc32

import numpy as np

from whorlpulse.simulate import Band, Foot, Scenario, Sensor, Treadling
from whorlpulse.simulate.line_faults import LineFaults

_RATIO, _SPREAD = 8.4, 0.03
_CADENCE, _TURNS, _JITTER_S = 60.0, 60, 200e-6


@dataclass(frozen=True)
class Cell:
    """One cell. ratio: drawn within `spread` (relative) of it. turns: of the wheel, about (its ramps included).

    ripple: by what share the speed swings within a turn (kinematic). sharpness: of the push (mechanical). slip:
    standard deviation of the random loss over a wheel turn, flyer turns.
    """

    group: str
    name: str
    ratio: float = _RATIO
    spread: float = _SPREAD
    cadence: float = _CADENCE
    turns: int = _TURNS
    wheel: int = 1
    flyer: int = 1
    uneven: bool = False
    jitter_s: float = _JITTER_S
    slip: float = 0.0
    ripple: float = 0.1
    treadles: int = 1
    mechanical: bool = False
    sharpness: float = 1.5
    faults: tuple[tuple[str, float], ...] = ()
    line_faults: LineFaults = field(default_factory=LineFaults)

    def scenario(self, number: int) -> Scenario:
        """Return log `number` of the cell."""
        rng = np.random.default_rng(self.seed(number))
        ratio = self.ratio * (1.0 + self.spread * float(rng.uniform(-1.0, 1.0)))
        lasts_s = 60.0 * self.turns / self.cadence
        return Scenario(
            f"grid-{number}",
            "one log of the accuracy grid",
            (Treadling(lasts_s, self.cadence, ratio=ratio),),
            motion="mechanical" if self.mechanical else "kinematic",
            band=Band(slip_noise=self.slip),
            foot=Foot(treadles=self.treadles, sharpness=self.sharpness, ripple=self.ripple),
            sensors=(
                Sensor("w", _angles(self.wheel, self.uneven, rng), jitter_s=self.jitter_s, **self._faults("w")),
                Sensor("f", _angles(self.flyer, self.uneven, rng), jitter_s=self.jitter_s, **self._faults("f")),
            ),
            line_faults=self.line_faults,
        )

    def seed(self, number: int) -> int:
        """Return what chance starts from in log `number`: no two cells share it."""
        return 100_000 * (crc32(f"{self.group}: {self.name}".encode()) % 10_000_000) + number

    def _faults(self, letter: str) -> dict[str, float]:
        return {k[2:]: v for k, v in self.faults if k[0] == letter}


def _angles(n: int, uneven: bool, rng: np.random.Generator) -> tuple[float, ...]:
    """Even places, or each up to a tenth of a gap off."""
    off = rng.uniform(-0.1, 0.1, n) / n if uneven else np.zeros(n)
    return (0.0, *(np.arange(1, n) / n + off[1:]).tolist())


_PLAIN = Cell("plain", "plain")


def _varied(group: str, cells: Mapping[str, Mapping[str, object]]) -> list[Cell]:
    return [replace(_PLAIN, group=group, name=name, **changed) for name, changed in cells.items()]


def _ratios() -> list[Cell]:
    near = {f"{r:g}, near whole": {"ratio": r, "spread": 0.0} for r in (6.02, 8.002)}
    quiet = {f"{r:g}, jitter 20 µs": {"ratio": r, "spread": 0.0, "jitter_s": 20e-6} for r in (6.02, 8.002, 6.37)}
    plain = {f"{r:g}": {"ratio": r} for r in (4.4, 6.4, 12.4, 18.4, 23.4)}
    return _varied("ratio", {**plain, **near, **quiet})


def _targets() -> list[Cell]:
    pairs = [(1, 2), (2, 1), (3, 1), (4, 1), (4, 2), (1, 4)]
    even = {f"{w} wheel, {f} flyer": {"wheel": w, "flyer": f} for w, f in pairs}
    return _varied(
        "targets",
        {
            **even,
            "4 wheel, 2 flyer, uneven": {"wheel": 4, "flyer": 2, "uneven": True},
            "4 wheel, ratio 4.4": {"wheel": 4, "ratio": 4.4},
            "4 wheel, slip 0.003": {"wheel": 4, "slip": 0.003},
            "4 wheel, slip 0.03": {"wheel": 4, "slip": 0.03},
        },
    )


def _noises() -> list[Cell]:
    """Timing noise against slip noise against length: the hard pairs."""
    return _varied(
        "jitter, slip, turns",
        {
            f"{1e6 * jitter:g} µs, {slip:g}, {turns}": {"jitter_s": jitter, "slip": slip, "turns": turns}
            for turns in (24, 60, 240)
            for jitter in (20e-6, 200e-6, 1e-3)
            for slip in (0.0, 0.003, 0.03)
        },
    )


def _faulty() -> list[Cell]:
    flyer = (("f.missed", 0.03), ("f.doubled", 0.02), ("w.bounced", 0.05))
    return _varied(
        "faults",
        {
            "flyer 3 % missed, 2 % doubled": {"faults": flyer},
            "flyer faults, slip 0.01": {"faults": flyer, "slip": 0.01},
            "wheel 3 % missed": {"faults": (("w.missed", 0.03),)},
            "wheel 3 % missed, slip 0.03": {"faults": (("w.missed", 0.03),), "slip": 0.03},
            "30 lines lost in two blocks": {"line_faults": LineFaults(lost_blocks=(20, 10), garbled=4)},
            "lines lost, slip 0.01": {"line_faults": LineFaults(lost_blocks=(20, 10), garbled=4), "slip": 0.01},
        },
    )


def _treadled() -> list[Cell]:
    """Real treadling: inertia, a creeping band, a foot that scatters."""
    return _varied(
        "treadled",
        {
            f"{w} wheel, {1e6 * jitter:g} µs, ratio {ratio:g}": {
                "mechanical": True,
                "wheel": w,
                "jitter_s": jitter,
                "ratio": ratio,
            }
            for w in (1, 4)
            for jitter in (20e-6, 200e-6, 1e-3)
            for ratio in (5.4, 12.4)
        }
        | {
            "one hard foot": {"mechanical": True, "sharpness": 2.2},
            "two feet": {"mechanical": True, "treadles": 2},
            "slip 0.01": {"mechanical": True, "slip": 0.01},
            "4 wheel, slip 0.01": {"mechanical": True, "slip": 0.01, "wheel": 4},
        },
    )


def _all_cells() -> tuple[Cell, ...]:
    cadences = {f"{c:g} a minute": {"cadence": c} for c in (35.0, 45.0, 80.0, 100.0)}
    ripples = {f"speed swings {100 * r:g} %": {"ripple": r} for r in (0.0, 0.2, 0.35)}
    lengths = {f"{n} turns": {"turns": n} for n in (12, 24, 36, 120, 400)}
    jitters = {f"{1e6 * j:g} µs": {"jitter_s": j} for j in (0.0, 20e-6, 60e-6, 600e-6, 2e-3)}
    slips = {f"slip {q:g}": {"slip": q} for q in (0.001, 0.003, 0.01, 0.03, 0.1)}
    return (
        _PLAIN,
        *_varied("cadence", cadences),
        *_varied("unevenness", {**ripples, "two feet, 20 %": {"ripple": 0.2, "treadles": 2}}),
        *_ratios(),
        *_targets(),
        *_varied("jitter", jitters),
        *_varied("slip noise", slips),
        *_varied("length", lengths),
        *_noises(),
        *_faulty(),
        *_treadled(),
    )


#: By "group: name".
CELLS: Mapping[str, Cell] = {f"{c.group}: {c.name}": c for c in _all_cells()}
