"""Park and draft: the wheel puts twist in, stands while the fibre is drafted, and winds on when it sets in again.

A draw thus ends soon after a run begins, and its turns are those of the run before. Its length follows from the turns:
the spinner drafts as far as the twist reaches.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .losses import Run
from .path import Path
from .yarn import Draws, Yarn

_SETS_IN_TURNS = 1.0  # the flyer turns so far before the hand lets the yarn in


def parked_draws(yarn: Yarn, flyer: Path, runs: Sequence[Run], rng: np.random.Generator) -> Draws:
    """Return one draw for each run after the first: it winds on as that run sets in.

    flyer, runs: of the motion without yarn; the motion with it must be the same (kinematic), since draws hang on the
    flyer's turns. Raises ValueError where a run is too short to wind on what the run before gave twist for.
    """
    at_s = np.array([run.start_s for run in runs])
    set_in = flyer.at(at_s) - flyer.turns[0]
    begun, ends, lengths, done = [], [], [], 0.0
    for number, start in enumerate(set_in[1:].tolist(), 1):
        twist = yarn.twist_tpm * (1.0 + yarn.scatter * float(np.clip(rng.standard_normal(), -3, 3)))
        flyer_per_s = (set_in[number] - set_in[number - 1]) / (runs[number - 1].end_s - runs[number - 1].start_s)
        end = start + _SETS_IN_TURNS + yarn.winding_s * flyer_per_s
        made = float(flyer.at(runs[number].end_s)) - float(flyer.turns[0])
        if end > made - _SETS_IN_TURNS:
            raise ValueError(f"run {number + 1} is too short to wind on in: treadle for longer")
        begun.append(start + _SETS_IN_TURNS)
        ends.append(end)
        lengths.append((end - done) / twist)
        done = end
    if not ends:
        raise ValueError("park and draft takes two runs or more: put a Stop between two Treadlings")
    return Draws(np.array(begun), np.array(ends), np.array(lengths), False)
