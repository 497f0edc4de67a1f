"""Properties of the files that are written by hand, for any bytes: one sentence, or figures that can be used."""

from __future__ import annotations

from math import isfinite

from whorlpulse.actions.reckon_plan import reckon_plan
from whorlpulse.cli.plan_file import PlanError, read_plan
from whorlpulse.cli.wheel_file import WheelError, read_wheel
from whorlpulse.estimators.band_ratio import no_slip_ratio
from whorlpulse.rig import Length, Rig
from whorlpulse.views import plan as plan_view
from whorlpulse.views.json_object import as_json
from whorlpulse.views.layout import Page


def wheel(data: bytes) -> None:
    """Any bytes as a wheel file: refused in one line that names it, or a rig whose whorls have sound ratios."""
    try:
        read = read_wheel(data, "any.toml")
    except WheelError as refused:
        _one_line(str(refused))
        return
    rig = read.onto(Rig())
    for length in (rig.wheel_diameter, rig.band_thickness, rig.band_length, rig.bobbin.core, rig.bobbin.full):
        _sound(length)
    assert all(1 <= n <= 4096 for n in rig.targets.values())
    for whorl in rig.whorls:
        ratio = no_slip_ratio(rig, whorl)
        assert ratio is None or (0 < ratio.value < 1e25 and 0 <= ratio.u < float("inf"))


def plan(data: bytes) -> None:
    """Any bytes as a plan file: refused in one line that names it, or reckoned and shown."""
    try:
        read = read_plan(data, "any.toml")
    except PlanError as refused:
        _one_line(str(refused))
        return
    assert isfinite(read.yarn.twist_tpm)
    assert read.yarn.twist_tpm > 0
    report = reckon_plan("any.toml", read.yarn, Rig(), (), 1.0, 0.1, (), read.hands)
    assert "NaN" not in as_json(plan_view.json_object(report))
    shown = plan_view.text(report, Page(80))
    assert " nan" not in shown
    assert " inf " not in shown


def _one_line(text: str) -> None:
    assert text.startswith("any.toml")
    assert len(text.splitlines()) == 1
    assert text.isprintable(), repr(text)
    assert len(text) < 1000


def _sound(length: Length | None) -> None:
    assert length is None or (0 < length.m < 1e13 and 0 <= length.m_u < float("inf"))
