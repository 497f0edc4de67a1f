"""What the band lost from each passage of a wheel target to the next, beside what it usually loses.

For unbroken counting with flyer turns y_i at wheel passages p_i (target j(i), wheel turns x_i), the usual advance
after target j is c_j, the median over all single steps of the whorl; so with C(p) the sum of the c_j up to p

    loss_i = C(p_{i+1}) − C(p_i) − (y_{i+1} − y_i)          flyer turns
    sudden_i = loss_i − level_i                             level: running median over about `_LEVEL_TURNS` turns

`loss` keeps slow changes (for what creep tracks), `sudden` is for bursts and lines. A loss that repeats once a wheel
turn is in the c_j, together with uneven targets (see `slip_periodic`). Medians: up to half of the steps may slip.
Passages that were filled in are left out beforehand, so that a step may go over several targets.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.targets import Angles
from whorlpulse.estimators.wheel_steps import Piece
from whorlpulse.pulses import BoolArray, FloatArray

_LEVEL_TURNS = 16
_FEWEST_LIKE = 3


@dataclass(frozen=True)
class LossSeries:
    """One stretch's steps. piece: its n+1 passages; turns (n+1,): wheel turns of the log before each of them.

    loss, sudden (n,): flyer turns, see the module's head. single (n,): whether a step goes from one target to the next.
    at_speed (n,): whether it counts for the ratio; where the wheel starts up or runs down it doesn't.
    """

    piece: Piece
    turns: FloatArray
    loss: FloatArray
    sudden: FloatArray
    single: BoolArray
    at_speed: BoolArray

    def __len__(self) -> int:
        return len(self.loss)

    @property
    def step_turns(self) -> FloatArray:
        """Wheel turns of each step, (n,)."""
        steps: FloatArray = np.diff(self.turns)
        return steps


def usual_advance(pieces: Sequence[Piece], angles: Angles) -> FloatArray:
    """Flyer turns from each wheel target to the next, (N,): the median over the single steps of the pieces."""
    targets = len(angles.angle)
    d = np.concatenate([np.diff(p.y) for p in pieces])
    target = np.concatenate([p.passage[:-1] % targets for p in pieces])
    single = np.concatenate([np.diff(p.passage) == 1 for p in pieces])
    gaps = np.diff(np.append(angles.angle, 1.0))
    ratio = sum(float(p.y[-1] - p.y[0]) for p in pieces) / sum(p.wheel_turns(angles) for p in pieces)
    usual = ratio * gaps
    for j in range(targets):
        mine = d[single & (target == j)]
        if len(mine) >= _FEWEST_LIKE:
            usual[j] = np.median(mine)
    return usual


def loss_series(whole: Piece, counted: Piece, turns: FloatArray, usual: FloatArray) -> LossSeries:
    """The losses of one stretch against the advance from each wheel target to the next, usual (N,) flyer turns.

    whole: all its passages that the flyer covers; counted: those of them at speed; turns (n+1,): the wheel's.
    """
    targets = len(usual)
    within = np.concatenate(([0.0], np.cumsum(usual)))
    due = within[whole.passage % targets] + whole.passage // targets * within[-1]
    loss = np.diff(due) - np.diff(whole.y)
    steps = np.diff(turns)
    at_speed = (whole.t_s[:-1] >= counted.t_s[0]) & (whole.t_s[1:] <= counted.t_s[-1])
    level = np.zeros(len(loss))
    # Per wheel turn, so that steps over several targets weigh as they should.
    level[at_speed] = _running_level(loss[at_speed] / steps[at_speed], _LEVEL_TURNS * targets)
    first, last = np.flatnonzero(at_speed)[[0, -1]]
    level[:first], level[last + 1 :] = level[first], level[last]
    return LossSeries(whole, turns, loss, loss - level * steps, np.diff(whole.passage) == 1, at_speed)


def _running_level(x: FloatArray, block: int) -> FloatArray:
    """A running level of x (n,): medians of blocks, joined by straight lines; one median for less than two blocks."""
    n = len(x)
    blocks = n // block
    if blocks < 2:
        return np.full(n, float(np.median(x)))
    size = n // blocks
    medians = np.median(x[: blocks * size].reshape(blocks, size), axis=1)
    if blocks >= 3:  # a block that mostly slips is outvoted by its neighbours
        padded = np.concatenate((medians[1:2], medians, medians[-2:-1]))
        medians = np.median(np.stack((padded[:-2], padded[1:-1], padded[2:])), axis=0)
    centres = (np.arange(blocks) + 0.5) * size
    level: FloatArray = np.interp(np.arange(n) + 0.5, centres, medians)
    return level
