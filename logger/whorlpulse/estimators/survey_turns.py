"""How many wheel turns a ratio needs to be known as well as is wanted, and how long that takes.

With timing noise σ (flyer turns, at a passage) and slip noise q (flyer turns, from one wheel turn to the next), N
wheel turns of a run foretell the ratio of another such run with

    u² = 12σ²/(N(N+1)(N+2)) + 2q²/N

the variance of a slope through equally spaced passages (as in `level_series`), and q²/N for the slip of either run.
u falls with N, so the least N with k·u ≤ the wanted half width is found by doubling and halving. Validated against the
variance of numpy's straight-line fit, and against simulated logs that are as long as this says.
"""

from __future__ import annotations

from math import ceil, sqrt

from whorlpulse.estimators.measured import Measured, coverage_factor

#: What is reckoned with before anything was measured: a plain sensor on a plain band. The accuracy tests go up to
#: 1 ms and 0.05 turns; a band in order stays well below 0.01.
TIMING_S, SLIP_TURNS = 0.001, 0.01
#: The smallest ratio that is usual (common practice, no source): of all ratios it needs the most turns.
USUAL_RATIO, USUAL_CADENCE_HZ = 4.0, 1.0
#: Turns of a run that are not counted, because the wheel starts up and runs down in them.
END_TURNS = 6
_MOST_TURNS = 1 << 20


def run_to_run_u(turns: int, timing_turns: float, slip_turns: float) -> float:
    """Return u of the ratio after `turns` wheel turns (1 or more) for σ and q in flyer turns; see the module's head."""
    n = float(turns)
    return sqrt(12.0 * timing_turns**2 / (n * (n + 1.0) * (n + 2.0)) + 2.0 * slip_turns**2 / n)


def turns_for(half_width: float, timing_turns: float, slip_turns: float) -> int:
    """Return the least wheel turns after which the 95 % interval is no wider than ±half_width (flyer/wheel turns).

    Raises ValueError for a half width that is not positive, or so small that a million turns would not do.
    """
    if not half_width > 0.0:
        raise ValueError(f"a half width must be positive, got {half_width}")
    k = coverage_factor(float("inf"))
    high = 1
    while k * run_to_run_u(high, timing_turns, slip_turns) > half_width:
        high *= 2
        if high > _MOST_TURNS:
            raise ValueError(f"±{half_width} is out of reach with noise of {timing_turns} and {slip_turns} turns")
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        if k * run_to_run_u(middle, timing_turns, slip_turns) > half_width:
            low = middle
        else:
            high = middle
    return high


def planned_turns(share: float, ratio: float = USUAL_RATIO, cadence_hz: float = USUAL_CADENCE_HZ) -> int:
    """Return the wheel turns to plan for ±share of the ratio, before anything of this wheel was measured."""
    return turns_for(share * ratio, TIMING_S * cadence_hz * ratio, SLIP_TURNS)


def more_turns(found: Measured, turns: float, share: float) -> int | None:
    """Return the wheel turns that would narrow `found`, from so many turns, to ±share of it; None if it is as narrow.

    By the slowest law, half width ~ 1/√N, so never too few.
    """
    wanted = share * found.value
    return None if found.half_width <= wanted else ceil(turns * (found.half_width / wanted) ** 2)
