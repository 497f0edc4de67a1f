"""The ratio without slip, against which slip is reckoned, and where it comes from.

In this order: a ratio given, or another log (slow, unloaded); the wheel file's measured ratio or its diameters; else
this log's own least-slipping stretches. The last can't know the creep that is there all the time.

Own stretches: the log at speed, bursts left out, in stretches of `_STRETCH_TURNS` wheel turns with kept ratios m_k.
R0 is the mean of the best quarter. Of their spread s² a part is timing noise (two passages' variance over the stretch's
turns squared), and the best of what is mere noise would always look better than the rest: the lead of the best
quarter over the mean is therefore shrunk by 1 − noise/s² (empirical Bayes).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Literal

import numpy as np

from whorlpulse.estimators.band_ratio import no_slip_ratio
from whorlpulse.estimators.measured import Measured
from whorlpulse.pulses import FloatArray
from whorlpulse.rig import Rig

Source = Literal["given", "other-capture", "wheel-file", "this-capture"]

_STRETCH_TURNS = 10
_FEWEST_STRETCHES = 4
#: A reference belongs to a whorl when the slip against it would lie between these: no band is that much too fast, and
#: one that loses more is off (common practice, no source).
_FASTEST, _MOST_SLIP = -0.12, 0.45
#: Where several whorls are known, a slip beyond this may as well be the next whorl.
_TELLING = 0.15


@dataclass(frozen=True)
class Reference:
    """ratio: without slip, flyer turns per wheel turn. name: the whorl's in the wheel file. by_diameters: not measured.

    rival: another known whorl that would fit as well (its name), or None.
    """

    ratio: Measured
    source: Source
    name: str | None = None
    by_diameters: bool = False
    rival: str | None = None


def known_whorls(rig: Rig) -> list[Reference]:
    """What the wheel file says of its whorls' ratios without slip; whorls of which it says too little are left out."""
    known = []
    for number, whorl in enumerate(rig.whorls, 1):
        ratio = no_slip_ratio(rig, whorl)
        if ratio is not None:
            known.append(
                Reference(Measured(*ratio), "wheel-file", whorl.name or str(number), by_diameters=whorl.ratio is None)
            )
    return known


def reference_for(ratio: Measured, known: Sequence[Reference]) -> Reference | None:
    """The reference of a whorl whose measured ratio is given: the nearest by slip, first of the first source.

    known: in the order of preference; None where none fits.
    """
    for source in ("given", "other-capture", "wheel-file"):
        fitting = [(slip, k) for k in known if k.source == source and _FASTEST < (slip := _slip(ratio, k)) < _MOST_SLIP]
        if not fitting:
            continue
        fitting.sort(key=lambda pair: abs(pair[0]))
        slip, nearest = fitting[0]
        rival = next((k.name for other, k in fitting[1:] if abs(other) < max(_TELLING, 1.5 * abs(slip))), None)
        return Reference(nearest.ratio, nearest.source, nearest.name, nearest.by_diameters, rival)
    return None


def _slip(ratio: Measured, known: Reference) -> float:
    return 1.0 - ratio.value / known.ratio.value


def own_best(kept: FloatArray, step_noise: float, whole: Measured) -> Reference:
    """The ratio of the best quarter of a log's stretches.

    kept (m,): ratios of stretches of `_STRETCH_TURNS` without bursts. step_noise: standard deviation in flyer turns of
    what lies between two passages, by timing alone. whole: the ratio of all of it without bursts.
    """
    noise_u = step_noise / _STRETCH_TURNS
    if len(kept) < _FEWEST_STRETCHES:
        return Reference(whole, "this-capture")
    best = np.sort(kept)[-max(len(kept) // 4, 1) :]
    spread = float(kept.var(ddof=1))
    real = max(1.0 - noise_u * noise_u / spread, 0.0) if spread > 0.0 else 0.0
    lead = float(best.mean() - kept.mean()) * real
    u = sqrt(whole.u**2 + (noise_u**2 + float(best.var())) / len(best))
    return Reference(Measured(whole.value + max(lead, 0.0), u, max(len(kept) - 1, 1)), "this-capture")


def stretch_ratios(turns: FloatArray, y: FloatArray, ordinary: np.ndarray) -> FloatArray:
    """Ratios of stretches of ten wheel turns: turns, y (n+1,) at passages, ordinary (n,) steps that are counted."""
    steps, made = np.diff(turns), np.diff(y)
    label = np.floor((turns[:-1] - turns[0]) / _STRETCH_TURNS).astype(np.int64)
    wheel = np.bincount(label, steps * ordinary)
    flyer = np.bincount(label, made * ordinary)
    full = wheel > 0.6 * _STRETCH_TURNS
    ratios: FloatArray = flyer[full] / wheel[full]
    return ratios
