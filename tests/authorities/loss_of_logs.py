"""The loss series of a simulated log, by the steps that the slip estimate takes, for outside methods to read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.actions.recording import read_recording
from whorlpulse.cli.inputs import Given, rig_of
from whorlpulse.conditioning.chain import condition
from whorlpulse.estimators.slip import SlipEstimate, estimate_slip
from whorlpulse.estimators.slip_series import LossSeries, loss_series, usual_advance
from whorlpulse.estimators.wheel_steps import Piece, pieces_at_speed
from whorlpulse.phase import wheel_passages_in_flyer_turns
from whorlpulse.pulses import WHEEL
from whorlpulse.simulate import Scenario, Truth, simulate


@dataclass(frozen=True)
class Losses:
    """One run's losses: series, targets of the wheel, the usual ratio, what slip found in it, and the truth."""

    series: LossSeries
    targets: int
    ratio: float
    found: SlipEstimate
    truth: Truth


def losses_of(case: Scenario, seed: int) -> Losses:
    """Simulate a log of one run on one whorl and return its losses."""
    capture = simulate(case, seed)
    recording = read_recording(lambda: [capture.log], "losses")
    rig, _ = rig_of(recording, Given(), needs_length=False)
    log = condition(recording.log.rows, rig)
    angles = log.angles[WHEEL]
    (counted,) = pieces_at_speed(log, len(angles.angle))
    (passages,) = wheel_passages_in_flyer_turns(log, log.stretches)
    whole = Piece(counted.run, *passages)
    usual = usual_advance([counted], angles)
    turns, part = angles.turns(whole.passage)
    series = loss_series(whole, counted, turns + part, usual)
    return Losses(series, len(angles.angle), float(usual.sum()), estimate_slip(log, rig), capture.truth)


def first_step_at(series: LossSeries, t_s: float) -> int:
    """The step during which t_s lies."""
    return int(np.searchsorted(series.piece.t_s, t_s, side="right")) - 1
