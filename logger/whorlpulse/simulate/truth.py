"""What really happened: the shafts, the yarn, and the faults that were put in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Final

import numpy as np

from whorlpulse.pulses import FloatArray

from .bobbin import Winding
from .losses import Burst, Run
from .motion import Motion
from .path import Path
from .scenario import Scenario
from .sensors import Reports
from .yarn import Draws, OffPlan

M_PER_INCH: Final = 0.0254  # exact
_DIGITS = 9


@dataclass(frozen=True)
class TrueRun:
    """A run from first motion to rest; turns are the shafts' own, ratio is theirs."""

    start_s: float
    end_s: float
    wheel_turns: float
    flyer_turns: float
    ratio: float
    whorl: str
    no_slip_ratio: float
    cadence_per_min: float


@dataclass(frozen=True)
class TrueBurst:
    """The band slid. wheel_turn: treadled wheel turns before it; lost_turns: flyer turns."""

    start_s: float
    end_s: float
    wheel_turn: float
    lost_turns: float


@dataclass(frozen=True)
class TrueDraw:
    """A draw that was taken up, by its place in the yarn."""

    from_m: float
    to_m: float
    flyer_turns: float
    twist_tpm: float


@dataclass(frozen=True)
class Truth:
    """The truth of one simulated capture. Times count from the log's first line with a tick, in true seconds.

    motion: both shafts, in time since the board's start; the first line came offset_s later. draws, length:
    the yarn (None without); length's `turns` are metres. reports: for each channel what its sensor said.
    lines: how many were lost, garbled, torn, and how many pulses the board itself never sent.
    """

    scenario: Scenario
    seed: int
    offset_s: float
    motion: Motion
    draws: Draws | None
    length: Path | None
    reports: Mapping[str, Reports]
    lines: Mapping[str, int]
    bobbin: Path | None = None
    winding: Winding | None = None

    def wheel_turns_at(self, t_s: FloatArray | float) -> FloatArray:
        """Return the wheel's angle in turns at t_s (any shape); only differences have a meaning."""
        return self.motion.wheel.at(np.asarray(t_s) + self.offset_s)

    def flyer_turns_at(self, t_s: FloatArray | float) -> FloatArray:
        """Return the flyer's angle in turns at t_s (any shape); only differences have a meaning."""
        return self.motion.flyer.at(np.asarray(t_s) + self.offset_s)

    def bobbin_turns_at(self, t_s: FloatArray | float) -> FloatArray:
        """Return the bobbin's angle in turns at t_s (any shape); NaN where no yarn is spun."""
        t = np.asarray(t_s, np.float64) + self.offset_s
        return self.bobbin.at(t) if self.bobbin is not None else np.full_like(t, np.nan)

    def length_m_at(self, t_s: FloatArray | float) -> FloatArray:
        """Return the length of yarn taken up at t_s (any shape) in metres; zeros where no yarn is spun."""
        t = np.asarray(t_s, np.float64) + self.offset_s
        return self.length.at(t) if self.length is not None else np.zeros_like(t)

    def passages_s(self, channel: str) -> FloatArray:
        """Return the true moments (n,) at which that channel's targets passed."""
        return self.reports[channel].passages - self.offset_s

    @property
    def duration_s(self) -> float:
        """How long the board watched after the log's first line."""
        return self.scenario.duration_s - self.offset_s

    @cached_property
    def runs(self) -> tuple[TrueRun, ...]:
        """The runs in order."""
        return tuple(self._run(run) for run in self.motion.runs)

    @cached_property
    def bursts(self) -> tuple[TrueBurst, ...]:
        """The slip bursts in order, those by the grip's limit and those put in."""
        return tuple(self._burst(burst) for burst in self.motion.bursts)

    @cached_property
    def ratio(self) -> float:
        """Total flyer turns over total wheel turns of the runs."""
        return sum(r.flyer_turns for r in self.runs) / sum(r.wheel_turns for r in self.runs)

    @cached_property
    def creep_percent(self) -> float:
        """The steady loss: what the no-slip ratio lacks with bursts added back; a periodic loss's mean counts."""
        due = sum(r.no_slip_ratio * r.wheel_turns for r in self.runs)
        kept = sum(_turned(self.motion.driven, r.start_s, r.end_s) for r in self.motion.runs)
        kept += sum(b.lost_turns for b in self.bursts)
        return 100.0 * (1.0 - kept / due)

    @property
    def length_m(self) -> float | None:
        """Length taken up, or None without yarn."""
        return float(self.length.turns[-1]) if self.length is not None else None

    @property
    def package_m(self) -> float | None:
        """Diameter over the yarn at the log's end, or None without yarn."""
        if self.winding is None or self.length_m is None:
            return None
        return self.winding.package_m(self.length_m)

    @cached_property
    def along(self) -> tuple[TrueDraw, ...]:
        """The draws that were taken up; the log's end may cut the last."""
        if self.draws is None or self.length is None:
            return ()
        turned = float(np.max(self.motion.flyer.turns) - self.motion.flyer.turns[0])
        n = int(np.count_nonzero(self.draws.winding_from < turned))
        from_m = self.draws.from_m[:n]
        to_m = np.minimum(from_m + self.draws.length_m[:n], self.length.turns[-1])
        turns = np.minimum(self.draws.end[:n], turned) - self.draws.start[:n]
        rows = zip(from_m.tolist(), to_m.tolist(), turns.tolist(), strict=True)
        return tuple(TrueDraw(a, b, x, x / (b - a)) for a, b, x in rows if b > a)

    @cached_property
    def flyer_turns(self) -> float:
        """Flyer turns up to the end of the last take-up; without yarn, those of all runs."""
        if self.draws is None:
            return sum(r.flyer_turns for r in self.runs)
        return sum(draw.flyer_turns for draw in self.along)

    @property
    def twist_tpm(self) -> float | None:
        """Mean twist of the yarn taken up in turns per metre, or None where there is none."""
        return self.flyer_turns / self.length_m if self.length_m else None

    @property
    def off_plan(self) -> tuple[OffPlan, ...]:
        """The stretches off plan that were spun, as far as they were."""
        yarn, length_m = self.scenario.yarn, self.length_m or 0.0
        if yarn is None:
            return ()
        return tuple(
            OffPlan(s.from_m, min(s.to_m, length_m), s.twist_tpm) for s in yarn.off_plan if s.from_m < length_m
        )

    def as_dict(self) -> dict[str, object]:
        """Return the truth in plain values, named as in the JSON of the commands."""
        length_m, tpm = self.length_m, self.twist_tpm
        return {
            "simulated": True,
            "scenario": self.scenario.name,
            "seed": self.seed,
            "duration_s": _tidy(self.duration_s),
            "runs": [_rounded(run) for run in self.runs],
            "ratio": _tidy(self.ratio),
            "whorls": self._whorls(),
            "bursts": [_rounded(burst) for burst in self.bursts],
            "creep_percent": _tidy(self.creep_percent),
            "hand_rolls": [
                {"start_s": _tidy(a - self.offset_s), "end_s": _tidy(b - self.offset_s), "net_wheel_turns": _tidy(n)}
                for a, b, n in self.motion.rolls
            ],
            "length_m": None if length_m is None else _tidy(length_m),
            "flyer_turns": _tidy(self.flyer_turns),
            "twist_tpm": None if tpm is None else _tidy(tpm),
            "twist_tpi": None if tpm is None else _tidy(tpm * M_PER_INCH),
            "along": [{**_rounded(d), "twist_tpi": _tidy(d.twist_tpm * M_PER_INCH)} for d in self.along],
            "off_plan": [{**_rounded(s), "twist_tpi": _tidy(s.twist_tpm * M_PER_INCH)} for s in self.off_plan],
            "target_angles_turns": {s.channel: [_tidy(a) for a in s.angles] for s in self.scenario.sensors},
            "faults": {
                c: {"passages": len(r.passages), "missed": r.missed, "doubled": r.doubled, "bounced": r.bounced}
                for c, r in self.reports.items()
            },
            "lines": dict(self.lines),
        } | self._wound()

    def _wound(self) -> dict[str, object]:
        """Return what only a log with a bobbin's pulses can be held against."""
        if "b" not in self.reports or self.bobbin is None or self.package_m is None:
            return {}
        return {
            "tension": self.scenario.tension,
            "bobbin": {
                "core_diameter_m": _tidy(self.scenario.bobbin.core_m),
                "full_diameter_m": _tidy(self.package_m),
                "turns": _tidy(self.bobbin.turns[-1] - self.bobbin.turns[0]),
            },
        }

    def _run(self, run: Run) -> TrueRun:
        wheel = _turned(self.motion.wheel, run.start_s, run.end_s)
        flyer = _turned(self.motion.flyer, run.start_s, run.end_s)
        return TrueRun(
            start_s=run.start_s - self.offset_s,
            end_s=run.end_s - self.offset_s,
            wheel_turns=wheel,
            flyer_turns=flyer,
            ratio=flyer / wheel,
            whorl=self.scenario.whorls[run.whorl].name,
            no_slip_ratio=run.ratio,
            cadence_per_min=60.0 * wheel / (run.end_s - run.start_s),
        )

    def _burst(self, burst: Burst) -> TrueBurst:
        before = sum(
            _turned(self.motion.wheel, r.start_s, min(r.end_s, burst.start_s))
            for r in self.motion.runs
            if r.start_s < burst.start_s
        )
        return TrueBurst(burst.start_s - self.offset_s, burst.end_s - self.offset_s, before, burst.lost_turns)

    def _whorls(self) -> list[dict[str, object]]:
        used = {run.whorl: run.no_slip_ratio for run in self.runs}
        return [
            {"name": name, "no_slip_ratio": _tidy(ratio)}
            for name, ratio in sorted(used.items(), key=lambda pair: pair[1])
        ]


def _turned(path: Path, start_s: float, end_s: float) -> float:
    return float(path.at(end_s) - path.at(start_s))


def _rounded(row: TrueRun | TrueBurst | TrueDraw | OffPlan) -> dict[str, object]:
    return {k: _tidy(v) if isinstance(v, float) else v for k, v in asdict(row).items()}


def _tidy(value: float) -> float:
    return round(float(value), _DIGITS)
