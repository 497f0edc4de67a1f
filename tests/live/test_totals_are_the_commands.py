"""When it is over, the live totals are those of the commands on the recorded log, in every digit."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from rooms import run_room, state, wheel

from whorlpulse.cli.exits import run
from whorlpulse.cli.inputs import Given, plan_at
from whorlpulse.cli.live_rig import LiveRig
from whorlpulse.sources.replay import ReplayedLog
from whorlpulse.sources.simulated import SimulatedSource
from whorlpulse.views.json_object import estimate

PLAN = '[yarn]\ntwist = "5.2 tpi"\n'


def said(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    """What a command prints with --json."""
    capsys.readouterr()
    run([*words, "--json"])
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


@pytest.mark.parametrize("name", ["skein-soft", "skein-marks", "three-whorls", "bad-line", "slipping-band"])
def test_final_totals_are_the_commands(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log, plan_file = tmp_path / "log.pulses", tmp_path / "plan.toml"
    plan_file.write_text(PLAN)
    plan = plan_at(str(plan_file)).yarn
    room = run_room([wheel(SimulatedSource(name, 60.0), log, plan=plan)])
    assert room.ended
    totals = room.wheels["1"].totals
    assert totals is not None
    ratio, cadence, slip = (said(capsys, command, str(log)) for command in ("ratio", "cadence", "slip"))
    twist = said(capsys, "twist", str(log), "--plan", str(plan_file))
    shown = state(room)["totals"]
    for figure, whole, measured, factor in (
        ("ratio", ratio["ratio"], totals.ratio, 1.0),
        ("cadence", cadence["cadence_per_min"], totals.cadence_hz, 60.0),
        ("twist_tpm", twist["twist_tpm"], totals.twist_tpm, 1.0),
        ("loss", slip["slip_percent"], totals.slip, 100.0),
    ):
        assert whole == estimate(measured, factor)
        assert shown[figure]["value"] == (whole["value"] if whole is not None else None)
    assert shown["twist_tpi"]["value"] == (twist["twist_tpi"]["value"] if twist["twist_tpi"] is not None else None)
    assert (totals.wheel_turns, totals.flyer_turns) == (ratio["wheel_turns"], ratio["flyer_turns"])
    assert totals.verdict == twist["verdict"]
    assert [b.start_s for b in totals.bursts] == [e["start_s"] for e in slip["events"]]


def test_a_replayed_log_has_the_totals_of_the_log_itself(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Played at fifty times its speed from a file, with a wheel file; nothing kept but what it shows."""
    assert run(["simulate", "three-whorls", "-o", str(tmp_path)]) == 0
    original, wheel_file = str(tmp_path / "log.pulses"), str(tmp_path / "wheel.toml")
    copy = tmp_path / "copy.pulses"
    room = run_room([wheel(ReplayedLog(original, 50.0), copy, rig_of=LiveRig(Given(wheel_file)))])
    totals = room.wheels["1"].totals
    assert totals is not None
    assert totals.ratio is not None
    assert totals.slip is not None
    ratio = said(capsys, "ratio", original, "--wheel", wheel_file)
    slip = said(capsys, "slip", original, "--wheel", wheel_file)
    assert ratio["ratio"]["value"] == totals.ratio.value
    assert slip["slip_percent"]["value"] == 100.0 * totals.slip.value
    board = [line for line in copy.read_bytes().splitlines(True) if not line.startswith((b"# started", b"# source"))]
    own = [line for line in Path(original).read_bytes().splitlines(True) if not line.startswith(b"# started")]
    assert board == own
