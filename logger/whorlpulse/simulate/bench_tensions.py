"""Scenarios of the other tensions, and of bobbins whose pulses are heard."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from .bobbin import Bobbin
from .coupling import Flyer
from .scenario import Groove, Roller, Scenario, Stop, Treadling
from .sensors import Sensor
from .truth import M_PER_INCH
from .yarn import Yarn

_LEAD, _TAIL = Stop(1.5), Stop(4.0)
_PLAN_TPM: Final = 5.2 / M_PER_INCH
_BULKY_TPM: Final = 2.5 / M_PER_INCH
_FOUR = (0.0, 0.25, 0.5, 0.75)
_W, _F, _B, _Y = Sensor("w", _FOUR), Sensor("f"), Sensor("b"), Sensor("y", _FOUR, width=0.05)
_BOBBIN_WHORLS = (Groove("large", 0.062), Groove("small", 0.048))
_DOUBLE_WHORLS = (Groove("large", 0.075), Groove("small", 0.060))


def _irish_skein() -> Scenario:
    return Scenario(
        "irish-skein",
        "a bobbin-led wheel: the band drives the bobbin, the braked flyer falls behind while yarn winds on",
        (_LEAD, Treadling(174.5, 60.0), _TAIL),
        whorls=_BOBBIN_WHORLS,
        flyer=Flyer(inertia_kgm2=2.0e-4, winding_nm=0.004),
        yarn=Yarn(_PLAN_TPM, winding_s=1.2),
        tension="irish",
        roller=Roller(),
        sensors=(_W, _F, _B, _Y),
    )


def _bobbin_only() -> Scenario:
    return replace(
        _irish_skein(),
        name="bobbin-only",
        says="the same bobbin-led wheel with no target on its flyer: the bobbin and a roller must do",
        sensors=(_W, _B, _Y),
    )


def _double_drive_skein() -> Scenario:
    return Scenario(
        "double-drive-skein",
        "double drive: while nothing winds on the band slips on one of the whorls, as it is meant to",
        (_LEAD, Treadling(174.5, 60.0), _TAIL),
        whorls=_DOUBLE_WHORLS,
        flyer=Flyer(winding_nm=0.002),
        yarn=Yarn(_PLAN_TPM, winding_s=2.5),
        tension="double-drive",
        flyer_gives=0.2,
        bobbin=Bobbin(whorl_m=0.054),
        roller=Roller(),
        sensors=(_W, _F, _B, _Y),
    )


def _filling_bobbin() -> Scenario:
    return Scenario(
        "filling-bobbin",
        "a bulky yarn fills the bobbin, layer by layer; no roller, but both ends of the bobbin were measured",
        (_LEAD, Treadling(294.5, 58.0), _TAIL),
        yarn=Yarn(_BULKY_TPM, draw_m=(0.5, 0.9), winding_s=1.6),
        bobbin=Bobbin(growth_m=1.0e-4, layer_m=0.0028, layer_scatter=0.15),
        sensors=(Sensor("w"), _F, _B),
    )


TENSION_SCENARIOS: Final[dict[str, Callable[[], Scenario]]] = {
    "irish-skein": _irish_skein,
    "bobbin-only": _bobbin_only,
    "double-drive-skein": _double_drive_skein,
    "filling-bobbin": _filling_bobbin,
}
