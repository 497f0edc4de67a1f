"""Slides: the band loses a good part of the ratio for many wheel turns on end, and at last the flyer may stand.

Bursts are sudden and creep is small; a slack band that slides all the time is neither, and makes its own "usual" step.
What tells it is that sliding friction keeps no ratio: over five wheel turns the ratio wanders by tens of per cent,
while creep, joints and wrong references leave it within a few. With m_k the ratio of the wheel turns k to k + 4,

    level = 98th percentile of the m_k     turn j slides where every m_k over it is below (1 − `_SLIDES`) level

Slides of at least three turns count. Assumes one whorl a run. Turns in which the flyer was not heard are left out,
unless it ran down before (`ran_down`): a sensor falls silent at full speed, a flyer slows first. Where yarn winds on a
bobbin-led wheel the flyer slips by design: not for those. Refuses (None) below twenty wheel turns. Validated in
tests/estimators/test_slip_slides.py on simulated slack bands.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.phase import wheel_passages_in_flyer_turns
from whorlpulse.pulses import FLYER, WHEEL, BoolArray, FloatArray

_TOGETHER = 5  # wheel turns: two ordinary bursts in them stay below the threshold
_LEVEL_PERCENTILE = 98.0
_SLIDES = 0.08  # share of the ratio; bands creep less (common practice, no source)
_LEAST_TURNS = 3
_FEWEST_TURNS = 20
_HOLE, _HOLE_S = 9.0, 1.0  # usual waits, seconds: more than conditioning fills
_BEFORE = 8  # waits before a gap that are looked at
_SLOWED = 1.6  # times the wait before: feet make less from one pulse to the next


@dataclass(frozen=True)
class Slides:
    """turns: wheel turns in which the band slid, of `of`; lost: flyer turns lost in them, against the log's best turns.

    times: how often; the longest from from_s to to_s, seconds since the log's first line. best: that level, as a ratio.
    """

    turns: int
    of: int
    lost: float
    times: int
    from_s: float
    to_s: float
    best: float


def ran_down(t_s: FloatArray, gap: int) -> bool:
    """Tell whether a shaft slowed down before the gap after pulse number `gap` of t_s (n,), or sped up after it."""
    before, after = np.diff(t_s[max(gap - _BEFORE, 0) : gap + 1]), np.diff(t_s[gap + 1 : gap + 2 + _BEFORE])
    return _slows(before) or _slows(after[::-1])


def _slows(wait: FloatArray) -> bool:
    """Tell whether the last three waits grow, to much more than before."""
    if len(wait) < 6:
        return False
    return bool((np.diff(wait[-4:]) > 0.0).all() and wait[-1] > _SLOWED * np.median(wait[:-3]))


def find_slides(log: Conditioned) -> Slides | None:
    """Return the slides of a log, or None without any, or where the lines stand for several turns."""
    if log.coarse & {WHEEL, FLYER}:
        return None
    runs = _turns_by_run(log)
    together = {run: _means(ratio) for run, (_, ratio) in runs.items()}
    means = np.concatenate([m for m in together.values() if len(m)] or [np.empty(0)])
    if len(means) < _FEWEST_TURNS:
        return None
    turns, lost, found = 0, 0.0, []
    for run, (t_s, ratio) in runs.items():
        if len(together[run]) == 0:
            continue
        best = float(np.percentile(together[run], _LEVEL_PERCENTILE))
        slid = _slid(together[run] < (1.0 - _SLIDES) * best, len(ratio))
        for i, j in _stretches(slid):
            turns += j - i
            lost += float((best - ratio[i:j]).sum())
            found.append((float(t_s[i]), float(t_s[j]), best))
    if not found:
        return None
    from_s, to_s, best = max(found, key=lambda f: f[1] - f[0])
    return Slides(turns, sum(len(r) for _, r in runs.values()), lost, len(found), from_s, to_s, best)


def _turns_by_run(log: Conditioned) -> dict[int, tuple[FloatArray, FloatArray]]:
    """By run: times (n+1,) of the wheel's whole turns and flyer turns in each (n,); the longest stretch of a run."""
    targets = len(log.angles[WHEEL].angle)
    runs: dict[int, tuple[FloatArray, FloatArray]] = {}
    for stretch, (t_s, y, passage) in zip(
        log.stretches, wheel_passages_in_flyer_turns(log, log.stretches), strict=True
    ):
        same = np.flatnonzero((passage - passage[:1]) % targets == 0)
        t, made = t_s[same], np.diff(y[same])
        whole = np.diff(passage[same]) == targets
        for from_s, to_s in _unheard(stretch.flyer.t_s):
            whole &= (t[1:] < from_s) | (t[:-1] > to_s)
        i, j = max(_stretches(whole), key=lambda s: s[1] - s[0], default=(0, 0))
        # the first and the last turns are those of starting up and running down
        i, j = i + 1, j - 1
        if j - i > len(runs.get(stretch.run, (None, ()))[1]):
            runs[stretch.run] = (t[i : j + 1], made[i:j])
    return runs


def _unheard(t_s: FloatArray) -> list[tuple[float, float]]:
    """Holes in a flyer's passages at t_s (n,), from and to, before which it did not slow down."""
    wait = np.diff(t_s)
    if len(wait) == 0:
        return []
    holes = np.flatnonzero(wait > max(_HOLE_S, _HOLE * float(np.median(wait))))
    return [(float(t_s[i]), float(t_s[i + 1])) for i in holes.tolist() if not ran_down(t_s, i)]


def _means(ratio: FloatArray) -> FloatArray:
    """Means of `_TOGETHER` neighbouring turns (n - 4,)."""
    if len(ratio) < _TOGETHER:
        return np.empty(0)
    means: FloatArray = np.convolve(ratio, np.full(_TOGETHER, 1.0 / _TOGETHER), "valid")
    return means


def _slid(low: BoolArray, turns: int) -> BoolArray:
    """Which of the turns (n,) lie in low means only, as far as means cover them."""
    slid = np.ones(turns, bool)
    for k in np.flatnonzero(~low):
        slid[k : k + _TOGETHER] = False
    return slid


def _stretches(mask: BoolArray) -> list[tuple[int, int]]:
    """From and to (not included) of the runs of `_LEAST_TURNS` or more true ones."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return [(int(i), int(j)) for i, j in edges.reshape(-1, 2) if j - i >= _LEAST_TURNS]
