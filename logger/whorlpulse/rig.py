"""The wheel as the measurement sees it: targets, clock, whorls, roller; all in SI units.

Text with units is read elsewhere (`units`, from the command line); here every length is in metres.
`_u` names a standard uncertainty in the same unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

Tension = Literal["scotch", "irish", "double-drive"]


@dataclass(frozen=True)
class Length:
    """A length in metres with its standard uncertainty in metres."""

    m: float
    m_u: float = 0.0


@dataclass(frozen=True)
class Whorl:
    """One groove for the drive band; ratio is flyer turns per wheel turn without slip, measured earlier."""

    name: str | None = None
    diameter: Length | None = None
    ratio: float | None = None
    ratio_u: float | None = None


@dataclass(frozen=True)
class Bobbin:
    """What the yarn winds on: diameters in metres, each None where it was not measured.

    core: of what the log's first yarn winds on, the bare core or the yarn that was on it. full: over the yarn at the
    log's end. width: between the flanges, over which the yarn is spread. whorl: of the bobbin's own whorl, under its
    band (double drive).
    """

    core: Length | None = None
    full: Length | None = None
    width: Length | None = None
    whorl: Length | None = None


@dataclass(frozen=True)
class LengthMark:
    """A `length` line: at raw tick `tick` the spinner had drawn in `length` since the mark before.

    row: how many pulse rows of the log stood before the line (it helps to place a wrapping tick).
    """

    tick: int
    row: int
    length: Length


def _one_each() -> Mapping[str, int]:
    return MappingProxyType({"w": 1, "f": 1, "b": 1, "y": 1})


@dataclass(frozen=True)
class Rig:
    """What a log cannot tell by itself: the clock, the targets on each shaft and the wheel's measures.

    roller: length of yarn for one turn of the take-up roller. whorls: as in the wheel file, in its order.
    length_marks: the log's `length` lines. total: length taken up in the whole log, measured afterwards.
    clock_tie_u_s: by channel, how unsurely its own clock is tied to the log's (sensors that bring their own).
    """

    tick_hz: float = 1_000_000.0
    tick_bits: int = 32
    targets: Mapping[str, int] = field(default_factory=_one_each)
    roller: Length | None = None
    length_marks: tuple[LengthMark, ...] = ()
    total: Length | None = None
    clock_tie_u_s: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    tension: Tension = "scotch"
    wheel_diameter: Length | None = None
    band_thickness: Length | None = None
    band_length: Length | None = None
    whorls: tuple[Whorl, ...] = ()
    bobbin: Bobbin = field(default_factory=Bobbin)
