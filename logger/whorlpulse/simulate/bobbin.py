"""The bobbin: its bare core, and how its diameter grows as yarn is laid on it.

A metre of yarn takes up a certain room, so the square of the diameter grows in proportion to the length wound on,
d² = d0² + g L; smoothly, or in layers of a certain height, each as thick as it happens to come out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from whorlpulse.pulses import FloatArray, IntArray

_LEAST_LAYER = 0.3  # no layer is thinner than this share of the usual one


@dataclass(frozen=True)
class Bobbin:
    """The bobbin of a scenario.

    core_m: diameter of the bare core. growth_m: by how much the square of the diameter grows for each metre of yarn
    (m² per m). layer_m: height of one layer (None: it grows smoothly); layer_scatter: standard deviation of the
    layers' heights, as a share. width_m: between its flanges. whorl_m: diameter of its own whorl (double drive).
    gauge_m: standard deviations with which the spinner measures the core and the package, in metres.
    """

    core_m: float = 0.035
    growth_m: float = 8.0e-6
    layer_m: float | None = None
    layer_scatter: float = 0.0
    width_m: float = 0.10
    whorl_m: float = 0.045
    gauge_m: tuple[float, float] = (0.0001, 0.0005)


@dataclass(frozen=True)
class Layers:
    """Layer by layer: length_m (n,) and turns (n,) wound before it, its inner diameter (n,) and its middle one (n,)."""

    length_m: FloatArray
    turns: FloatArray
    inner_m: FloatArray
    middle_m: FloatArray

    def at(self, length_m: FloatArray) -> IntArray:
        """Return the number of the layer that is being laid after length_m (n,) metres."""
        return np.clip(np.searchsorted(self.length_m, length_m, side="right") - 1, 0, len(self.length_m) - 1)


@dataclass(frozen=True)
class Winding:
    """Turns wound on against length for one bobbin; without layers its diameter grows smoothly."""

    bobbin: Bobbin
    layers: Layers | None = None

    def wound(self, length_m: FloatArray) -> FloatArray:
        """Return the turns in which the first `length_m` (n,) metres are wound on, ∫ dL / (π d)."""
        d0, g = self.bobbin.core_m, self.bobbin.growth_m
        if self.layers is None:
            smooth: FloatArray = 2.0 * (np.sqrt(d0 * d0 + g * length_m) - d0) / (math.pi * g)
            return smooth
        k = self.layers.at(length_m)
        turns: FloatArray = self.layers.turns[k] + (length_m - self.layers.length_m[k]) / (
            math.pi * self.layers.middle_m[k]
        )
        return turns

    def per_metre(self, length_m: FloatArray) -> FloatArray:
        """Return the turns that wind on one more metre after `length_m` (n,), 1 / (π d)."""
        d0, g = self.bobbin.core_m, self.bobbin.growth_m
        d = np.sqrt(d0 * d0 + g * length_m) if self.layers is None else self.layers.middle_m[self.layers.at(length_m)]
        slope: FloatArray = 1.0 / (math.pi * d)
        return slope

    def package_m(self, length_m: float) -> float:
        """Return the diameter over the yarn after `length_m` metres; a layer begun counts as if laid out evenly."""
        d0, g = self.bobbin.core_m, self.bobbin.growth_m
        if self.layers is None:
            return math.sqrt(d0 * d0 + g * length_m)
        k = int(self.layers.at(np.array([length_m]))[0])
        inner, since = float(self.layers.inner_m[k]), length_m - float(self.layers.length_m[k])
        # its share of the layer's volume, as if spread over the whole width
        return math.sqrt(inner * inner + g * since)


def winding(bobbin: Bobbin, longest_m: float, rng: np.random.Generator) -> Winding:
    """Return how `longest_m` metres at least wind on.

    A layer of height h on an inner diameter d has the coils that fill its volume: its length is that by which d² grows
    to (d + 2h)², 4 h (d + h) / g.
    """
    if bobbin.layer_m is None:
        return Winding(bobbin)
    inner, length, turns = bobbin.core_m, 0.0, 0.0
    rows = []
    while length <= longest_m:
        share = max(1.0 + bobbin.layer_scatter * float(rng.standard_normal()), _LEAST_LAYER)
        height = bobbin.layer_m * share
        middle = inner + height
        rows.append((length, turns, inner, middle))
        laid = 4.0 * height * middle / bobbin.growth_m
        length += laid
        turns += laid / (math.pi * middle)
        inner += 2.0 * height
    return Winding(bobbin, Layers(*np.array(rows).T))
