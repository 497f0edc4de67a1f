"""Pulls of a measured length over the roller: where each begins and ends in the log, and how many pulses it has.

Pulls are parted by the spinner's own lines (`mark` or `length`) where there are any among the pulses, else by stops. A
hand-over-hand pull pauses for a moment at each grip; a stop between two pulls is longer, while the length is laid out
anew (common practice, no source). Where it is known how many pulls there are, the longest waits part them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.take_ups import usual_wait_s
from whorlpulse.pulses import ROLLER, FloatArray

PartedBy = Literal["lines", "stops"]

#: Without lines and number, a wait longer than this, and than so many usual ones, parts two pulls.
_SHORTEST_STOP_S = 2.0
_STOP_TIMES = 10.0
#: Parts with less than this share of the largest one's pulses are yarn put in place, not pulls.
_STRAY_SHARE = 0.25


@dataclass(frozen=True)
class Pull:
    """One pull: first and last pulse in seconds since the log's first row; lost: lines were lost in it."""

    start_s: float
    end_s: float
    pulses: int
    lost: bool = False


@dataclass(frozen=True)
class Pulls:
    """The pulls in order. stray_pulses: those that belong to none. line (k,): number of the line that ended each."""

    pulls: tuple[Pull, ...]
    parted_by: PartedBy
    stray_pulses: int
    line: tuple[int | None, ...]


def find_pulls(log: Conditioned, lines_s: Sequence[float], expected: int | None = None) -> Pulls:
    """Return the pulls in a log. lines_s: when `mark` and `length` lines were written; expected: how many pulls.

    With `expected` above 1 the lines are used only if they part so many; else the longest waits do.
    """
    pieces = [piece.counted.t_s for piece in log.rolls]
    t = np.sort(np.concatenate(pieces)) if pieces else np.empty(0)
    if len(t) < 2:
        return Pulls((), "stops", len(t), ())
    at = np.array(sorted(lines_s))
    cuts = np.searchsorted(t, at)
    if ((cuts > 0) & (cuts < len(t))).any() or (len(at) and expected is None and (cuts >= len(t)).any()):
        by_lines = _told(log, t, np.unique(cuts), "lines", at)
        if expected in (None, len(by_lines.pulls)):
            return by_lines
    return _told(log, t, _stops(t, expected), "stops", np.empty(0))


def _stops(t: FloatArray, expected: int | None) -> np.ndarray:
    """Return the indices of passages with which a pull begins, after the first."""
    waits = np.diff(t)
    if expected is not None and expected > 1:
        return np.sort(np.argsort(waits)[-(expected - 1) :]) + 1
    least = max(_SHORTEST_STOP_S, _STOP_TIMES * usual_wait_s(waits[waits > 0]))
    return np.flatnonzero(waits > least) + 1 if expected != 1 else np.empty(0, np.int64)


def _told(log: Conditioned, t: FloatArray, cuts: np.ndarray, parted_by: PartedBy, at: FloatArray) -> Pulls:
    edges = np.unique(np.concatenate(([0], cuts, [len(t)])))
    counts = np.diff(edges)
    kept = counts >= _STRAY_SHARE * counts.max()
    pulls, lines = [], []
    for i, j in zip(edges[:-1][kept].tolist(), edges[1:][kept].tolist(), strict=True):
        breaks = np.searchsorted(log.break_s, [t[i], t[j - 1]], side="right")
        pulls.append(Pull(float(t[i]), float(t[j - 1]), j - i, bool(breaks[1] > breaks[0])))
        after = int(np.searchsorted(at, t[j - 1]))
        lines.append(after if after < len(at) else None)
    return Pulls(tuple(pulls), parted_by, int(counts[~kept].sum()), tuple(lines))


def roller_reports_singly(log: Conditioned) -> bool:
    """Tell whether each line of the roller stands for one pulse, as a count of pulls needs."""
    return ROLLER not in log.coarse
