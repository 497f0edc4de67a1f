"""Null case from outside: a real geared pair of shafts can't slip, so there is no burst and no line in either day.

Source of the recordings and of the stated ratio: see tests/authorities/end_to_end/recorded_shafts.py.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "authorities" / "end_to_end")]

from recorded_shafts import DAYS, STATED_RATIO, recorded  # noqa: E402
from shaft_logs import log_of  # noqa: E402

from whorlpulse.actions.measure_slip import measure_slip  # noqa: E402
from whorlpulse.actions.recording import read_recording  # noqa: E402
from whorlpulse.estimators.measured import Measured  # noqa: E402
from whorlpulse.estimators.slip_reference import Reference  # noqa: E402
from whorlpulse.rig import Rig  # noqa: E402


@pytest.mark.parametrize("day", DAYS)
@pytest.mark.parametrize("angle_deg", [180.0, 0.0])
def test_gears_do_not_slip(day, angle_deg):
    shafts = recorded(day)
    log = log_of({"w": shafts.rotor_passages(angle_deg), "f": shafts.generator_passages()}, {"targets": "w=1 f=1"})
    # the generator's speed channel is calibrated to 0.2 % or so
    stated = [Reference(Measured(STATED_RATIO, 0.002 * STATED_RATIO), "given")]
    report = measure_slip(read_recording(lambda: [log], day), Rig(), stated)
    assert report.found is not None
    assert report.found.bursts == ()
    (whorl,) = report.found.whorls
    assert whorl.lines == ()
    assert not any(t.sure for t in whorl.tracked)
    assert abs(whorl.slip.value) < 0.003
    assert not {f.id for f in report.findings} & {"slip-bursts", "band-creeps", "drag", "band-joint", "periodic-loss"}
