"""A measured value with its standard uncertainty, after the GUM (JCGM 100:2008).

Components are independent unless a function says otherwise; the 95 % interval uses Student's t with the
degrees of freedom of the uncertainty (GUM G.3), infinite for those known from limits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, inf, isfinite, sqrt

#: Two-sided 95 % quantiles of Student's t by degrees of freedom (GUM table G.2, which gives these to two decimals;
#: computed here to four), so that an interval needs no import of a statistics library.
_T95 = (
    (1, 12.7062), (2, 4.3027), (3, 3.1824), (4, 2.7764), (5, 2.5706), (6, 2.4469), (7, 2.3646), (8, 2.3060),
    (9, 2.2622), (10, 2.2281), (12, 2.1788), (14, 2.1448), (16, 2.1199), (18, 2.1009), (20, 2.0860), (25, 2.0595),
    (30, 2.0423), (40, 2.0211), (50, 2.0086), (60, 2.0003), (100, 1.9840), (200, 1.9719), (500, 1.9647),
)  # fmt: skip
_Z95 = 1.959964


def coverage_factor(dof: float) -> float:
    """Return k so that ±k standard uncertainties cover 95 %, for degrees of freedom dof >= 1 (may be infinite).

    Between tabled values 1/dof is interpolated linearly, which is always a little wide: by up to 0.06 between 2 and 3
    degrees of freedom, 0.011 between 3 and 4, and less than 0.0035 beyond.
    """
    if not isfinite(dof) or dof >= 1e6:
        return _Z95
    dof = max(dof, 1.0)
    below, k_below = float(_T95[0][0]), _T95[0][1]
    for above, k_above in (*_T95[1:], (inf, _Z95)):
        if dof <= above:
            x = 1 / dof
            x0, x1 = 1 / below, 0.0 if above == inf else 1 / above
            return k_above + (k_below - k_above) * (x - x1) / (x0 - x1)
        below, k_below = above, k_above
    return _Z95


@dataclass(frozen=True)
class Measured:
    """value with standard uncertainty u (same unit) and its degrees of freedom."""

    value: float
    u: float
    dof: float = inf

    @property
    def half_width(self) -> float:
        """Half of the 95 % interval."""
        return coverage_factor(self.dof) * self.u

    @property
    def low(self) -> float:
        """Lower end of the 95 % interval."""
        return self.value - self.half_width

    @property
    def high(self) -> float:
        """Upper end of the 95 % interval."""
        return self.value + self.half_width

    def times(self, factor: float) -> Measured:
        """The same quantity in another unit."""
        return Measured(self.value * factor, abs(factor) * self.u, self.dof)


def welch_satterthwaite(parts: Sequence[tuple[float, float]]) -> float:
    """Effective degrees of freedom of independent components (u_i, dof_i) (GUM equation G.2b)."""
    total = sum(u * u for u, _ in parts)
    denominator = sum(u**4 / dof for u, dof in parts if isfinite(dof) and u > 0)
    return total * total / denominator if denominator > 0 else inf


def quotient(over: Measured, under: Measured, correlation: float = 0.0) -> Measured:
    """Over / under with the inputs' correlation carried (GUM 5.2.2)."""
    value = over.value / under.value
    # In absolute form, so that an `over` of 0 (no turns at all) keeps its uncertainty.
    a, b = over.u / under.value, value * under.u / under.value
    u = sqrt(max(a * a + b * b - 2 * correlation * a * b, 0.0))
    return Measured(value, u, welch_satterthwaite([(abs(a), over.dof), (abs(b), under.dof)]))


def weighted_sum(parts: Sequence[Measured], weights: Sequence[float]) -> Measured:
    """Sum of weights[i] * parts[i], independent parts (GUM 5.1.2)."""
    value = sum(w * p.value for w, p in zip(weights, parts, strict=True))
    components = [(abs(w) * p.u, p.dof) for w, p in zip(weights, parts, strict=True)]
    return Measured(value, hypot(*(u for u, _ in components)), welch_satterthwaite(components))
