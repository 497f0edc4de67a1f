"""The difference of two measured values, and of two rates of events, each with an interval.

Two logs' own noise is independent, so it adds. What both were measured against (one reference, one roller) is off by
the same amount in both: with sensitivities c_a, c_b of the two values to one shared input of standard uncertainty u_s

    u²(b − a) = u_a² + u_b² + (c_b − c_a)² u_s²          u_a, u_b without the shared part (GUM 5.2.2, r = 1)

so an input on which both depend alike drops out.

Events (bursts) come seldom and in lots of unequal size. A sum S = Σ x_i of n of them is taken for a scaled count: it
has the relative spread of (Σx)²/Σx² equal events of Σx²/Σx each (Bohm and Zech, Nucl. Instrum. Methods A 748 (2014)
1, from memory). A count's ends are Garwood's (1936), and the interval of a difference of two rates joins both rates'
(Zou and Donner, Statistics in Medicine 27 (2008) 1693, from memory): it is not symmetrical.
Validated in tests/estimators/test_difference.py against GTC, scipy's chi-squared and simulated counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

from scipy.special import gammaincinv

from whorlpulse.estimators.measured import Measured, welch_satterthwaite

_TAIL = 0.025


@dataclass(frozen=True)
class Span:
    """A value with the ends of its 95 % interval, which need not lie evenly around it."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Shared:
    """An input on which both values depend: its standard uncertainty and both sensitivities."""

    u: float
    by_a: float
    by_b: float


NOTHING_SHARED = Shared(0.0, 0.0, 0.0)


def span(m: Measured) -> Span:
    """Return a measured value with its ends."""
    return Span(m.value, m.low, m.high)


def difference(a: Measured, b: Measured, shared: Shared = NOTHING_SHARED) -> Measured:
    """Return b − a; a.u and b.u are their own parts, without the shared input."""
    common = (shared.by_b - shared.by_a) * shared.u
    u = hypot(a.u, b.u, common)
    return Measured(b.value - a.value, u, welch_satterthwaite([(a.u, a.dof), (b.u, b.dof)]))


def rate(sizes: Sequence[float], exposure: float, usual_size: float) -> Span:
    """Return the sum of event sizes over an exposure (turns, minutes), with the ends of its interval.

    usual_size: what an event would have, for an exposure without any.
    """
    total, squares = sum(sizes), sum(x * x for x in sizes)
    size = squares / total if total > 0.0 else usual_size
    low, high = count_ends(total / size if size > 0.0 else 0.0)
    return Span(total / exposure, low * size / exposure, high * size / exposure)


def count_ends(n: float) -> tuple[float, float]:
    """Return the exact 95 % ends of the mean of a Poisson count n, whole or scaled: quantiles of the gamma law."""
    low = float(gammaincinv(n, _TAIL)) if n > 0.0 else 0.0
    return low, float(gammaincinv(n + 1.0, 1.0 - _TAIL))


def span_difference(a: Span, b: Span) -> Span:
    """Return b − a of two independent values that have ends."""
    value = b.value - a.value
    low = value - hypot(b.value - b.low, a.high - a.value)
    high = value + hypot(b.high - b.value, a.value - a.low)
    return Span(value, low, high)
