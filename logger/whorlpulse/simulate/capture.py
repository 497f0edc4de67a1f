"""A scenario and a seed in, a pulse log and its truth out."""

from __future__ import annotations

import math
from copy import deepcopy
from dataclasses import dataclass, replace

import numpy as np

from whorlpulse.wire.encoder import encode_meta

from .board import Events, board_faults, gathered, header, pulse_lines, sync_lines
from .bobbin import Winding, winding
from .draws_parked import parked_draws
from .line_faults import damage
from .motion import Chances, Motion, moved
from .path import Path
from .scenario import Marks, Scenario, Treadling
from .sensors import Reports, watch
from .spinner_files import plan_toml, wheel_toml
from .tension import Shafts, driven_turns, quickest_winding, shafts
from .truth import Truth
from .yarn import Draws, planned_draws

_CHANNELS = "wfby"
Timed = list[tuple[float, bytes]]


@dataclass(frozen=True)
class Capture:
    """A simulated pulse log with its truth, and the wheel and plan files that a spinner would have."""

    log: bytes
    truth: Truth
    wheel_toml: str | None
    plan_toml: str | None


def simulate(scenario: Scenario, seed: int) -> Capture:
    """Return the capture of a scenario; the same seed gives the same bytes.

    Raises ValueError, saying what to change, for a scenario that cannot be.
    """
    if seed < 0:
        raise ValueError(f"a seed is 0 or more, not {seed}")
    streams = [np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(9 + len(_CHANNELS))]
    sensed, (layered, gauged) = streams[7 : 7 + len(_CHANNELS)], streams[7 + len(_CHANNELS) :]
    draws = _draws(scenario, streams[4], Chances(*streams[:4]))
    wound = winding(scenario.bobbin, draws.total_m, layered) if draws is not None else None
    motion = moved(scenario, _winding_at(scenario, draws, wound), Chances(*streams[:4]))
    spun = None
    if draws is not None and wound is not None:
        spun = shafts(motion.driven, draws, wound, scenario.tension, scenario.give)
        motion = replace(motion, flyer=spun.flyer)
    length = spun.length if spun is not None else None
    reports = _reports(scenario, motion, spun, dict(zip(_CHANNELS, sensed, strict=True)))
    board, faults = scenario.board, scenario.line_faults
    events = gathered(board, {c: r.t_s for c, r in reports.items()}, scenario.duration_s)
    events, unheard = board_faults(events, faults, streams[5])
    if not len(events.t_s):
        raise ValueError("nothing was reported: let it last longer, or switch the keep-alives on")
    arrived, hit = damage(pulse_lines(board, events, faults.restart_at_s), faults, streams[6])
    lines = {"lost": sum(x is None for x in arrived), "garbled": len(hit), "torn": int(faults.torn_tail)}
    offset_s = next(float(t) for t, x in zip(events.t_s.tolist(), arrived, strict=True) if x is not None)
    told = {**lines, "unheard_pulses": unheard}
    bobbin = spun.bobbin if spun is not None else None
    truth = Truth(scenario, seed, offset_s, motion, draws, length, reports, told, bobbin, wound)
    extra = sync_lines(board, scenario.duration_s) + _mark_lines(scenario, motion, draws, length)
    log = _written(scenario, seed, events, arrived, extra)
    plan = plan_toml(scenario.yarn) if scenario.yarn is not None else None
    wheel = wheel_toml(scenario, truth.package_m, gauged) if scenario.wheel_file else None
    return Capture(log, truth, wheel, plan)


def _draws(scenario: Scenario, rng: np.random.Generator, chances: Chances) -> Draws | None:
    if scenario.yarn is None:
        return None
    if scenario.yarn.take_up == "parked":
        if scenario.motion != "kinematic":
            raise ValueError("park and draft needs kinematic motion: its draws are set by the turns of each run")
        bare = moved(scenario, [], deepcopy(chances))
        return parked_draws(scenario.yarn, bare.driven, bare.runs, rng)
    runs = [p for p in scenario.phases if isinstance(p, Treadling)]
    rates = [scenario.no_slip_ratio(p) * p.cadence_per_min / 60.0 for p in runs]
    turns = 1.5 * max(rates) * scenario.duration_s  # more than the flyer can make
    first, around = runs[0], math.pi * scenario.bobbin.core_m
    excess = scenario.excess_ratio(first) if scenario.tension == "double-drive" else 0.0
    quickest = quickest_winding(scenario.tension, scenario.whorl_ratio(first), excess) / around
    return planned_draws(scenario.yarn, rates[0], turns, rng, quickest=quickest, lag=scenario.give / around)


def _winding_at(scenario: Scenario, draws: Draws | None, wound: Winding | None) -> list[float]:
    """Return the driven shaft's turns at which winding-on begins and ends by turns."""
    if draws is None or wound is None:
        return []
    edges = np.stack([draws.winding_from, draws.end], axis=1).ravel()
    at: list[float] = driven_turns(draws, wound, scenario.give, edges).tolist()
    return at


def _reports(
    scenario: Scenario, motion: Motion, spun: Shafts | None, streams: dict[str, np.random.Generator]
) -> dict[str, Reports]:
    """Return what each channel's sensor reports, by its letter."""
    paths = {"w": motion.wheel, "f": motion.flyer}
    if spun is not None:
        paths["b"] = spun.bobbin
        if scenario.roller is not None:
            around, length = scenario.roller.length_m * (1.0 + scenario.roller.error), spun.length
            paths["y"] = Path(length.t_s, length.turns / around, length.speed / around)
    missing = [s.channel for s in scenario.sensors if s.channel not in paths]
    if missing:
        raise ValueError(f"channel {missing[0]} has nothing to watch: b needs a yarn, y a yarn and a roller")
    return {s.channel: watch(s, paths[s.channel], streams[s.channel]) for s in scenario.sensors}


def _mark_lines(scenario: Scenario, motion: Motion, draws: Draws | None, length: Path | None) -> Timed:
    """Return (time, line) for the `length` lines: a zero at the first motion, then one every few draws."""
    marks: Marks | None = scenario.marks
    if marks is None or draws is None or length is None:
        return []
    turns = np.maximum.accumulate(motion.flyer.turns) - motion.flyer.turns[0]
    n = int(np.count_nonzero(draws.end < turns[-1])) // marks.every_draws * marks.every_draws
    step = marks.every_draws
    at = np.interp(draws.end[:n][step - 1 :: step], turns, motion.flyer.t_s) + marks.late_s
    sizes = draws.length_m[:n].reshape(-1, step).sum(axis=1)
    shown = np.concatenate([[0.0], np.round(sizes / marks.round_m) * marks.round_m])
    times = np.concatenate([[motion.runs[0].start_s], at])
    rows = zip(times.tolist(), scenario.board.ticks(times).tolist(), shown.tolist(), strict=True)
    return [(t, encode_meta("length", f"{tick} {100.0 * m:.4g} cm")) for t, tick, m in rows if t < scenario.duration_s]


def _written(scenario: Scenario, seed: int, events: Events, arrived: list[bytes | None], extra: Timed) -> bytes:
    """Return the log: header, then pulse lines with the host's notes among them by time."""
    head = header(
        scenario.board,
        {s.channel: len(s.angles) for s in scenario.sensors},
        scenario.roller.length_m if scenario.roller is not None else None,
        f"simulated by whorlpulse, scenario {scenario.name}, seed {seed}",
    )
    restart = scenario.line_faults.restart_at_s
    if restart is not None:
        extra = extra + [(restart, line) for line in head[:-1]]
    times = np.concatenate([events.t_s, [t for t, _ in extra]])
    body = arrived + [line for _, line in extra]
    # notes go after a pulse line of the same moment, and before a torn last line
    order = np.argsort(times, kind="stable").tolist()
    if scenario.line_faults.torn_tail:
        order.append(order.pop(order.index(len(arrived) - 1)))
    return b"".join(head + [line for i in order if (line := body[i]) is not None])
