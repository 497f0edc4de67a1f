"""From a recording and a rig to the cadence report."""

from __future__ import annotations

from collections.abc import Sequence

from whorlpulse.actions.recording import Recording, few_turns, lacks_shaft, line_notes, pulse_notes, unreadable
from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.board_clock import BoardClock, board_clock
from whorlpulse.estimators.cadence import (
    FEWEST_TURNS,
    by_true_clock,
    estimate_cadence,
)
from whorlpulse.estimators.laps import Stall, stalls, treadled_parts
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.turn_profile import FEWEST_LAPS, ProfileGap, TurnProfile, turn_profile
from whorlpulse.findings.cadence_report import CadenceReport
from whorlpulse.findings.report import Note, note
from whorlpulse.pulses import WHEEL
from whorlpulse.rig import Rig

#: The rhythm of one order is called the main one when it is so many times as large as the other.
_MOSTLY = 1.5
#: Starting up and running down don't count: turns that a log has besides.
_STARTING_TURNS = 3
#: Turns a minute between which a wheel may be treadled (40 to 90 are usual: common practice, no source).
_SLOWEST_PER_MIN, _FASTEST_PER_MIN = 15.0, 180.0


def measure_cadence(
    recording: Recording, rig: Rig, treadles: int | None = None, notes: Sequence[Note] = ()
) -> CadenceReport:
    """Return the cadence report of a recording.

    treadles: 1 or 2 as told, None when not. notes: what was said already while the rig was put together.
    """
    log = recording.conditioned(rig)
    said = [*notes, *line_notes(recording)]
    why_not = unreadable(recording, log, rig) or lacks_shaft(recording, WHEEL)
    if why_not is not None:
        return CadenceReport(recording.capture, treadles=treadles, cannot_say=why_not, notes=(*said, why_not))
    found = estimate_cadence(log)
    said += pulse_notes(log)
    if found.mean is None:
        why_not = few_turns(log, rig, found.wheel_turns, FEWEST_TURNS, beside=_STARTING_TURNS)
        return CadenceReport(recording.capture, found, treadles=treadles, cannot_say=why_not, notes=(*said, why_not))
    clock = board_clock(recording.log.rows, log.clocked, recording.log.header.syncs, rig.tick_hz, rig.tick_bits)
    parts = treadled_parts(log)
    stalled = tuple(stalls(log, parts))
    profile = turn_profile(log, parts)
    stops = tuple((a.end_s, b.start_s) for a, b in zip(found.runs, found.runs[1:], strict=False))
    trend = found.trend_hz_per_s
    return CadenceReport(
        recording.capture,
        found=found,
        clock=clock,
        mean_hz=by_true_clock(found.mean, clock.rate),
        run_hz=tuple(r.cadence_hz / clock.rate.value for r in found.runs),
        trend_hz_per_s=trend.times(1.0 / clock.rate.value**2) if trend is not None else None,
        profile=profile if isinstance(profile, TurnProfile) else None,
        stalls=stalled,
        stops=stops,
        treadles=treadles,
        limit=_limit(found.mean, clock),
        notes=(
            *_pace_notes(60.0 * found.mean.value),
            _clock_note(clock),
            *_profile_notes(profile, treadles, rig),
            *([note("no-scatter")] if found.steadiness is None and WHEEL not in log.coarse else []),
            *_stall_notes(stalled, stops, log),
            *said,
        ),
    )


def _pace_notes(per_min: float) -> list[Note]:
    usual = _SLOWEST_PER_MIN <= per_min <= _FASTEST_PER_MIN
    return [] if usual else [note("unlikely-pace", cadence=per_min)]


def _limit(mean: Measured, clock: BoardClock) -> Note:
    """Say what the interval comes from."""
    if clock.rate.half_width / clock.rate.value <= mean.half_width / mean.value:
        return note("limit-wander")
    return note("limit-sync" if clock.source == "sync" else "limit-clock")


def _clock_note(clock: BoardClock) -> Note:
    if clock.source != "sync":
        return note(f"clock-{clock.source}")
    fast = 1.0 / clock.rate.value - 1.0
    if abs(fast) <= clock.rate.half_width:
        return note("clock-right", stamps=clock.stamps, percent=100.0 * (abs(fast) + clock.rate.half_width))
    percent = Measured(100.0 * abs(fast), 100.0 * clock.rate.u, clock.rate.dof)
    return note("clock-fast" if fast > 0 else "clock-slow", stamps=clock.stamps, percent=percent)


def _profile_notes(profile: TurnProfile | ProfileGap, treadles: int | None, rig: Rig) -> list[Note]:
    notes = [note("treadles-not-told")] if treadles is None else []
    if not isinstance(profile, TurnProfile):
        return [
            note("profile-few-laps", needed=FEWEST_LAPS) if profile == "few-laps" else note(f"profile-{profile}"),
            *notes,
        ]
    if rig.targets["w"] > 1:
        notes.append(note("some-target"))
    if not profile.sure or profile.orders < 2:
        return notes
    once, twice = profile.by_order[:2]
    if twice > _MOSTLY * once and treadles != 2:
        notes.append(note("mostly-twice" if treadles is None else "single-pushes-twice"))
    if once > _MOSTLY * twice and treadles != 1:
        notes.append(note("mostly-once" if treadles is None else "one-foot-stronger"))
    return notes


def _stall_notes(stalled: Sequence[Stall], stops: Sequence[tuple[float, float]], log: Conditioned) -> list[Note]:
    notes = [note("stops", stops=len(stops))] if stops else []
    if stalled and not any(len(s.flyer) for s in log.stretches):
        notes.append(note("missed-or-stall"))
    return [*notes, note("reversals")]
