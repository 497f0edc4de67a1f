"""Twist found on the yarn itself: counted by untwisting samples, or reckoned from surface angle and diameter.

Direct counting (ISO 2061 and ASTM D1423; their scopes were read, not their full text): a sample of gauge length L is
untwisted until its fibres lie straight, and the turns n are counted. Twist is per twisted length, the length before
untwisting:

    T_i = n_i / L          mean T, s = standard deviation of the T_i, CV = s / T
    T ± t(k − 1) u,        u² = s²/k + T² (u(L)/L)²       k samples, GUM (JCGM 100) 4.2.3, 5.1.6

The degrees of freedom stay k − 1: Welch and Satterthwaite's, which the GUM proposes, grow without bound where few
samples happen to be alike, and the interval then covers too seldom (88.9 % with two samples and a gauge good to 0.4 %;
with k − 1 the coverage is in the tests). A count can't be finer than its step q: s is at least q/√12 in turns (GUM
F.2.2.1). One sample shows no spread, so it gives a value without an interval. The untwist-retwist way (ASTM D1422)
counts each turn twice: half the count.
Samples are taken to come from places that the spinner didn't choose by eye.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import fmean, stdev

from whorlpulse.estimators.measured import Measured, coverage_factor, quotient
from whorlpulse.rig import Length

_MOST_SAMPLES = 10_000


@dataclass(frozen=True)
class Counted:
    """Counted samples. twist: turns per metre of twisted yarn, u 0 and dof 0 with a single sample (no interval).

    each_tpm: the samples one by one. cv: standard deviation over mean, None with a single sample.
    """

    twist: Measured
    each_tpm: tuple[float, ...]
    cv: float | None

    @property
    def has_interval(self) -> bool:
        """Whether there are samples enough for an interval."""
        return len(self.each_tpm) > 1


def direct_count(turns: Sequence[float], gauge: Length, step: float = 1.0, *, retwisted: bool = False) -> Counted:
    """Return the twist of samples of one gauge length from their counted turns.

    turns: one count a sample, at least one, positive. step: the finest part of a turn that was counted.
    retwisted: the counts are of untwisting and twisting up again. Raises ValueError for what isn't positive.
    """
    if not turns or not all(n > 0 and math.isfinite(n) for n in turns) or not (gauge.m > 0 and step > 0):
        raise ValueError("direct counting needs positive counts, a positive gauge length and a positive step")
    times = 0.5 if retwisted else 1.0
    counts = [times * n for n in turns]
    each = tuple(n / gauge.m for n in counts)
    if len(counts) == 1:
        return Counted(Measured(each[0], 0.0, 0.0), each, None)
    spread = max(stdev(counts), times * step / math.sqrt(12.0))
    mean = Measured(fmean(counts), spread / math.sqrt(len(counts)), len(counts) - 1)
    twist = replace(quotient(mean, Measured(gauge.m, gauge.m_u)), dof=mean.dof)
    return Counted(twist, each, spread / mean.value)


def of_several(values: Sequence[float], u_each: float) -> Measured:
    """Return the mean of readings with its uncertainty: from their spread, at least that of one reading's own.

    values (k,): readings of one quantity; u_each: standard uncertainty of a reading by its last digit or stated. What
    is stated counts in full, because an instrument's fault doesn't average out; a single reading has it alone.
    """
    if len(values) == 1:
        return Measured(values[0], u_each)
    spread = stdev(values) / math.sqrt(len(values))
    u = math.hypot(spread, u_each)
    # Welch and Satterthwaite with a stated part of infinite degrees of freedom (GUM G.2b)
    dof = math.inf if spread == 0 else (len(values) - 1) * (u / spread) ** 4
    return Measured(fmean(values), u, dof)


def twist_from_angle(angle_deg: Measured, diameter_m: Measured) -> Measured:
    """Return turns per metre from the surface fibres' angle and the yarn's diameter, T = tan alpha / (pi d).

    (u(T)/T)² = (u(alpha) / (sin alpha cos alpha))² + (u(d)/d)², alpha in radians; first order, independent.
    Raises ValueError for an angle not between 0 and 90 degrees or a diameter not above 0.
    """
    if not 0 < angle_deg.value < 90 or not diameter_m.value > 0:
        raise ValueError("a surface angle lies between 0 and 90 degrees, and a diameter is positive")
    alpha = math.radians(angle_deg.value)
    tan = Measured(math.tan(alpha), math.radians(angle_deg.u) / math.cos(alpha) ** 2, angle_deg.dof)
    return quotient(tan, diameter_m.times(math.pi))


def shortening(gauge: Length, untwisted: Sequence[float], u_each: float = 0.0) -> Measured:
    """Return the retraction R = (L0 − Lt) / L0 of samples of twisted length Lt from their untwisted lengths L0 (k,).

    Negative where the yarn grew shorter by untwisting. The gauge is one input of all samples.
    """
    if not untwisted or not all(length > 0 for length in untwisted):
        raise ValueError("untwisted lengths must be positive")
    kept = quotient(Measured(gauge.m, gauge.m_u), of_several(untwisted, u_each))
    return replace(kept, value=1.0 - kept.value)


def samples_needed(cv: float, half_width: float) -> int:
    """Return how many samples make a 95 % interval of ± half_width (relative) when they scatter by `cv`.

    The least k with t(k − 1) cv / √k at most half_width; at least 2, at most ten thousand.
    """
    if not (cv >= 0 and half_width > 0):
        raise ValueError("cv must not be negative, and half_width must be positive")
    k = max(2, math.floor((1.959964 * cv / half_width) ** 2))
    while k < _MOST_SAMPLES and coverage_factor(k - 1) * cv / math.sqrt(k) > half_width:
        k += 1
    return min(k, _MOST_SAMPLES)
