"""One simulated log through the whole way from bytes to estimates, and its truth to be held against.

The truth is the shafts' own angle between the very passages that the estimate counts from and to, so that nothing but
the estimate is judged.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.actions.recording import read_recording
from whorlpulse.cli.inputs import Given, rig_of
from whorlpulse.conditioning import Conditioned, condition
from whorlpulse.estimators.ratio import RatioEstimate, RunRatio, estimate_ratio
from whorlpulse.estimators.twist import TwistEstimate, estimate_twist
from whorlpulse.estimators.wheel_steps import pieces_at_speed
from whorlpulse.rig import Rig
from whorlpulse.simulate import Capture, Scenario, Truth, simulate
from whorlpulse.wire import Tally


@dataclass(frozen=True)
class Trial:
    """A simulated log, conditioned, with the rig that its own header gives."""

    capture: Capture
    rig: Rig
    conditioned: Conditioned
    tally: Tally

    @property
    def truth(self) -> Truth:
        return self.capture.truth

    def ratio(self) -> RatioEstimate:
        return estimate_ratio(self.conditioned, self.rig.tick_hz)

    def twist(self) -> TwistEstimate:
        return estimate_twist(self.conditioned, self.rig)


def trial(case: Scenario, seed: int) -> Trial:
    """Simulate, read and condition one log."""
    capture = simulate(case, seed)
    recording = read_recording(lambda: [capture.log], "trial.pulses")
    rig, _ = rig_of(recording, Given(), needs_length=False)
    return Trial(capture, rig, condition(recording.log.rows, rig), recording.log.tally)


def true_turns(found: Trial, run: RunRatio) -> tuple[float, float]:
    """Return the wheel's and the flyer's true turns between the passages from and to which the run's pieces count."""
    truth, passages = found.truth, found.truth.passages_s("w")
    pieces = pieces_at_speed(found.conditioned, found.rig.targets["w"])
    mine = [p for p in pieces if run.start_s <= p.t_s[0] and p.t_s[-1] <= run.end_s]
    ends = np.array([[passages[np.abs(passages - t).argmin()] for t in (p.t_s[0], p.t_s[-1])] for p in mine])
    wheel, flyer = np.diff(truth.wheel_turns_at(ends)), np.diff(truth.flyer_turns_at(ends))
    return float(wheel.sum()), float(flyer.sum())


def true_ratio(found: Trial, run: RunRatio) -> float:
    """Return the ratio that the shafts really made over the run's count."""
    wheel, flyer = true_turns(found, run)
    return flyer / wheel


def true_total_ratio(found: Trial, said: RatioEstimate) -> float:
    """Return the true flyer turns over the true wheel turns of all counted runs."""
    turns = np.array([true_turns(found, run) for run in said.runs])
    return float(turns[:, 1].sum() / turns[:, 0].sum())


def true_twist_tpm(truth: Truth, said: TwistEstimate) -> float:
    """Return the true turns over the true length (turns/m) of the yarn that the estimate counts.

    By `length` lines: that of the draws that have a line. By the roller: all that was taken up when it last turned.
    """
    if said.length_source == "marks":
        noted = truth.along[: len(said.draws)]
        return sum(d.flyer_turns for d in noted) / noted[-1].to_m
    begin, end = (float(truth.flyer_turns_at(t)) for t in (truth.runs[0].start_s, said.draws[-1].end_s))
    return (end - begin) / float(truth.length_m_at(said.draws[-1].end_s))
