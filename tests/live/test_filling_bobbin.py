"""Length and twist by the bobbin while it fills: against simulated truth where they can be said, refused where not."""

from __future__ import annotations

import asyncio
import math
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from rooms import Told, run_room, state, wheel
from windows import ends_of_rows, fed, setup

from whorlpulse.actions.live_room import LiveRoom
from whorlpulse.actions.live_setup import RigSoFar
from whorlpulse.actions.live_totals import Order, measure_totals
from whorlpulse.actions.live_window import WindowFigures, measure_window
from whorlpulse.cli.inputs import Given
from whorlpulse.cli.live_rig import LiveRig
from whorlpulse.estimators.bobbin_length import PACKAGE_DENSITY_KG_M3
from whorlpulse.estimators.plan import YarnPlan
from whorlpulse.rig import Bobbin, Length
from whorlpulse.simulate import Capture, Scenario, Sensor, scenario, simulate

GROWTHS = {"irish-skein": 8e-6, "double-drive-skein": 8e-6, "filling-bobbin": 4e-5}
WIDTH = Length(0.1, 3e-4)
FULL = Length(0.0544, 5e-4)


def filling(name: str) -> Scenario:
    """A wheel whose only length is the bobbin's, which fills smoothly; g square metres a metre by GROWTHS."""
    case = scenario(name)
    bobbin = replace(case.bobbin, growth_m=GROWTHS[name], layer_m=None, layer_scatter=0.0)
    return replace(case, bobbin=bobbin, roller=None, sensors=(Sensor("w"), Sensor("f"), Sensor("b")))


def plan_of(name: str) -> YarnPlan:
    """A plan with the count that the yarn must have to take that room: g = 4 a/(pi w), a = mass per length/density."""
    return YarnPlan(200.0, count_tex=GROWTHS[name] * math.pi * WIDTH.m / 4 * PACKAGE_DENSITY_KG_M3 * 1e6)


def window_of(log: bytes, bobbin: Bobbin, plan: YarnPlan | None) -> tuple[float, WindowFigures]:
    counts = fed(log)
    window = counts.window()
    assert window is not None
    rig = RigSoFar(setup(plan)).of_window(counts.header, window)
    assert rig is not None
    return window.start_s, measure_window(window, replace(rig, bobbin=bobbin), (), plan)


def true_yarn(capture: Capture, from_s: float, to_s: float) -> tuple[float, float]:
    """Metres and turns per metre of the yarn that truly went in between two times."""
    truth = capture.truth
    metres, turns = (float(of(to_s) - of(from_s)) for of in (truth.length_m_at, truth.flyer_turns_at))
    return metres, turns / metres


@pytest.mark.parametrize("name", GROWTHS)
def test_with_width_and_count_the_window_knows_how_thick_the_bobbin_is_by_now(name: str) -> None:
    """To take the window for the whole filling instead is a tenth too long at its start and too short at its end."""
    held, off, n = 0, [], 0
    for seed in range(1, 7):
        capture = simulate(filling(name), seed)
        ends = ends_of_rows(capture.log)
        for part in (0.3, 0.5, 0.7, 0.9, 1.0):
            log = capture.log[: ends[int(part * (len(ends) - 1))]]
            bobbin = Bobbin(Length(0.035, 1e-4), FULL, WIDTH)
            start_s, live = window_of(log, bobbin, plan_of(name))
            if live.twist is None:  # no whole draw in the window
                continue
            metres, tpm = true_yarn(
                capture, start_s + live.twist.draws[0].start_s, start_s + live.twist.draws[-1].end_s
            )
            held += live.twist.length.low <= metres <= live.twist.length.high
            held += live.twist.twist.low <= tpm <= live.twist.twist.high
            off.append(live.twist.length.value / metres - 1.0)
            n += 2
    assert n >= 40
    assert held >= 0.9 * n
    # told in steps of 2.5 cm on half a metre: 0.025/sqrt(12) at either end are 2 %, three of them 6 %
    assert max(abs(x) for x in off) < 0.06
    assert abs(sum(off) / len(off)) < 0.02


@pytest.mark.parametrize(
    ("bobbin", "plan", "why"),
    [
        (Bobbin(Length(0.035), FULL), None, "no-bobbin-growth"),
        (Bobbin(Length(0.035), FULL, WIDTH), None, "no-bobbin-growth"),
        (Bobbin(Length(0.035), FULL), plan_of("filling-bobbin"), "no-bobbin-growth"),
        (Bobbin(full=FULL, width=WIDTH), plan_of("filling-bobbin"), "no-bobbin-core"),
        (Bobbin(), None, "no-bobbin-core"),
    ],
)
@pytest.mark.parametrize("part", [0.1, 0.6, 1.0])
def test_the_full_diameter_is_that_of_the_end_and_is_not_used_before(bobbin, plan, why: str, part: float) -> None:
    log = simulate(filling("filling-bobbin"), 2).log
    _, live = window_of(log[: ends_of_rows(log)[int(part * 3000)]], bobbin, plan)
    assert (live.twist, live.why_no_twist) == (None, why)
    assert live.ratio is not None


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, str, Capture]:
    capture = simulate(filling("filling-bobbin"), 2)
    log, wheel_file = tmp_path / "log.pulses", tmp_path / "wheel.toml"
    log.write_bytes(capture.log)
    wheel_file.write_text(
        '[wheel]\ntension = "scotch"\n[bobbin]\ncore_diameter = "35.0 mm"\nfull_diameter = "%.2f mm"\n'
        % (1e3 * math.sqrt(0.035**2 + 4e-5 * capture.truth.length_m_at(1e9)))
    )
    return log, str(wheel_file), capture


def test_totals_wait_for_the_full_bobbin_and_are_right_then(files: tuple[Path, str, Capture]) -> None:
    log, wheel_file, capture = files
    order = Order(log, "log.pulses", LiveRig(Given(wheel_file, None, None)))
    before = measure_totals(replace(order, upto=len(capture.log) // 2))
    assert (before.length_m, before.twist_tpm) == (None, None)
    assert "bobbin-not-full" in [n.key for n in before.notes]
    at_end = measure_totals(order)
    assert at_end.length_m is not None
    assert at_end.length_m.value == pytest.approx(float(capture.truth.length_m_at(1e9)), rel=0.01)
    assert [n for n in at_end.notes if n.key == "bobbin-not-full"] == []


@pytest.mark.parametrize(
    ("with_file", "says"), [(True, "at the end, when the bobbin is full"), (False, "if its core_diameter stands")]
)
def test_the_view_says_what_the_bobbin_waits_for(
    files: tuple[Path, str, Capture], tmp_path: Path, with_file: bool, says: str
) -> None:
    _, wheel_file, capture = files
    lines = capture.log.splitlines(True)[:900]
    told = Told([b"".join(lines[i : i + 30]) for i in range(0, len(lines), 30)], rest_s=0.01, holds_s=2.0)
    given = Given(wheel_file if with_file else None, None, None)
    seen: list[dict[str, Any]] = []

    async def look(room: LiveRoom) -> None:
        async with asyncio.timeout(20.0):
            while state(room)["ratio"]["text"] is None:
                await asyncio.sleep(0.05)
        seen.append(state(room))

    run_room([wheel(told, tmp_path / "kept", rig_of=LiveRig(given))], look)
    assert says in seen[0]["twist_tpi"]["why"]
    assert seen[0]["length"]["why"] == "the bobbin tells it in what is measured at each stop"
