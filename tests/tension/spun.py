"""Simulated wheels with the bobbin's pulses, measured with the wheel file that their spinner would have."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tests.accuracy.trial import Trial, trial

from whorlpulse.actions.recording import read_recording
from whorlpulse.cli.wheel_file import read_wheel
from whorlpulse.conditioning import condition
from whorlpulse.estimators.twist import TwistEstimate, estimate_twist
from whorlpulse.rig import Rig
from whorlpulse.simulate import Scenario, Sensor, scenario

FLYER_AND_BOBBIN = (Sensor("w"), Sensor("f"), Sensor("b"))


@dataclass(frozen=True)
class Spun:
    """One simulated yarn as measured, and what it truly was at the end of the last counted take-up."""

    found: Trial
    rig: Rig
    said: TwistEstimate

    @property
    def true_length_m(self) -> float:
        return float(self.found.truth.length_m_at(self.said.draws[-1].end_s))

    @property
    def true_tpm(self) -> float:
        truth = self.found.truth
        begin, end = (float(truth.flyer_turns_at(t)) for t in (truth.runs[0].start_s, self.said.draws[-1].end_s))
        return (end - begin) / self.true_length_m


def case(name: str, **changed: object) -> Scenario:
    return replace(scenario(name), **changed)  # type: ignore[arg-type]


def spun(scene: Scenario, seed: int, count_tex: float | None = None, **rig_changed: object) -> Spun:
    """Simulate, condition and measure one log with its own wheel file."""
    found = trial(scene, seed)
    assert found.capture.wheel_toml is not None
    rig = read_wheel(found.capture.wheel_toml.encode(), "wheel.toml").onto(found.rig)
    rig = replace(rig, **rig_changed)  # type: ignore[arg-type]
    # conditioned anew: the tension tells what a bobbin alone is
    rows = read_recording(lambda: [found.capture.log], "trial").log.rows
    return Spun(found, rig, estimate_twist(condition(rows, rig), rig, count_tex=count_tex))
