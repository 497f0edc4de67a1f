"""Winding on: flyer and bobbin turn in one sense, and yarn is wound by the difference between them.

Flyer-led (scotch tension): the flyer is the faster. Bobbin-led (irish tension, and double drive with the smaller
whorl on the bobbin): the bobbin is. How many turns were wound is reckoned in `wound_turns`.
"""

from __future__ import annotations

import math
from typing import Final, Literal

from ..rig import Tension

Lead = Literal["flyer", "bobbin"]

_LEADS: Final[dict[Tension, Lead]] = {"scotch": "flyer", "irish": "bobbin", "double-drive": "bobbin"}


def lead_of(tension: Tension) -> Lead:
    """Return which of the two turns faster while yarn is wound on.

    Double drive is taken with the smaller whorl on the bobbin, as it is built nearly always (common practice,
    no source).
    """
    return _LEADS[tension]


def greatest_draw_in_m(bobbin_ratio: float, flyer_ratio: float, diameter_m: float) -> float:
    """Return the most yarn in metres that double drive draws in during one wheel turn, (Rb - Rf) pi d.

    Rb, Rf: turns of the bobbin's and the flyer's whorl for one of the wheel without slip. More can't go in, because
    neither whorl outruns its band; less does while the yarn is held, and the band then slips by design.
    """
    if not bobbin_ratio > flyer_ratio:
        raise ValueError(f"the bobbin's whorl must be the faster one, got {bobbin_ratio} and {flyer_ratio}")
    return (bobbin_ratio - flyer_ratio) * math.pi * _positive(diameter_m)


def over_end_twist_tpm(diameter_m: float) -> float:
    """Return turns per metre gained or lost by yarn drawn over the bobbin's end: one a wrap, 1 / (pi d).

    Drawn off the side, none. Whether it adds or takes away depends on S or Z and on the end that is used.
    Reference: ASTM D1423 5.3 warns of it in words; the number is the geometry of one wrap.
    """
    return 1.0 / (math.pi * _positive(diameter_m))


def _positive(diameter_m: float) -> float:
    if not diameter_m > 0:
        raise ValueError(f"a bobbin's diameter must be positive, got {diameter_m} m")
    return diameter_m
