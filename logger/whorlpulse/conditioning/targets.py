"""Where the targets sit on their shaft, estimated from the log itself.

Wheel: the angle of target j is the flyer's advance from target 0 to it, as a part of the flyer's advance over the
whole turn. The band couples both shafts, so uneven treadling cancels and only the magnets' places remain.
Flyer (or a wheel without flyer): the time of target j between passages of target 0 on a smooth curve through
these; speed ripple averages out because the ratio is rarely whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.pulses import FloatArray, IntArray

_FEWEST_TURNS = 5
#: Angles less sure than this (turns, standard uncertainty) are refused: even spacing is then the better guess.
_WORST_U = 0.01


@dataclass(frozen=True)
class Angles:
    """Target angles in turns, ascending from 0: angle (N,), u (N,) standard uncertainty (0 for the first).

    measured is False where the log can't tell and even spacing is assumed.
    """

    angle: FloatArray
    u: FloatArray
    measured: bool

    @staticmethod
    def even(targets: int) -> Angles:
        """Evenly spaced targets, as assumed when nothing better is known."""
        return Angles(np.arange(targets) / targets, np.zeros(targets), False)

    def turns(self, passage: IntArray) -> tuple[IntArray, FloatArray]:
        """Shaft angle at the passages (n,): whole turns (n,) int64 and the rest of a turn (n,), 0 to 1."""
        n = len(self.angle)
        return passage // n, self.angle[passage % n]


def angles_by_position(position: Sequence[FloatArray], passage: Sequence[IntArray], targets: int) -> Angles:
    """Target angles from pieces of a log: position (n,) rises smoothly with the shaft's angle.

    position is the flyer's passages for the wheel, or time for a shaft alone; passage (n,) numbers the targets,
    every piece by the same target 0.
    """
    if targets == 1:
        return Angles(np.zeros(1), np.zeros(1), True)
    parts: list[list[FloatArray]] = [[] for _ in range(targets)]
    for x, p in zip(position, passage, strict=True):
        zero = p % targets == 0
        turn = monotone_cubic(x[zero], (p[zero] // targets).astype(float), x)
        for j in range(1, targets):
            members = (
                turn[(p % targets == j) & np.isfinite(turn)] - p[(p % targets == j) & np.isfinite(turn)] // targets
            )
            parts[j].append(members)
    angle, u = np.zeros(targets), np.zeros(targets)
    for j in range(1, targets):
        all_j = np.concatenate(parts[j]) if parts[j] else np.empty(0)
        if len(all_j) < _FEWEST_TURNS:
            return Angles.even(targets)
        angle[j] = _trimmed_mean(all_j)
        u[j] = all_j.std(ddof=1) / np.sqrt(len(all_j))
    if u.max() > _WORST_U or not (np.diff(np.append(angle, 1.0)) > 0).all():
        return Angles.even(targets)
    return Angles(angle, u, True)


def _trimmed_mean(values: FloatArray) -> float:
    """Mean without what lies more than five robust deviations off (a slip burst, a miscount)."""
    centre = np.median(values)
    scale = 1.4826 * np.median(np.abs(values - centre))
    return float(values[np.abs(values - centre) <= 5 * scale + 1e-9].mean())


def same_zero(pieces: Sequence[Counted], position: Sequence[FloatArray], targets: int) -> list[Counted]:
    """Renumber the pieces (of one shaft) so that all call the same target 0, as far as uneven gaps tell.

    position[i] belongs to pieces[i]. Pieces too short to show a pattern, or evenly spaced, stay as they are.
    """
    if targets == 1 or len(pieces) < 2:
        return list(pieces)
    gaps = [_gap_pattern(x, c.passage, targets) for x, c in zip(position, pieces, strict=True)]
    longest = max(range(len(pieces)), key=lambda i: len(pieces[i]))
    model = gaps[longest]
    if model is None:
        return list(pieces)
    aligned = []
    for piece, gap in zip(pieces, gaps, strict=True):
        shift = 0
        if gap is not None:
            misfit = [float(((np.roll(gap, k) - model) ** 2).sum()) for k in range(targets)]
            shift = int(np.argmin(misfit))
        aligned.append(replace(piece, passage=piece.passage + shift) if shift else piece)
    return aligned


def _gap_pattern(x: FloatArray, passage: IntArray, targets: int) -> FloatArray | None:
    """Median gap after each target (N,), relative to their mean; None for less than two turns."""
    if len(x) < 2 * targets + 1:
        return None
    step = np.diff(x)
    single = np.diff(passage) == 1
    gaps = np.full(targets, np.nan)
    for c in range(targets):
        members = single & (passage[:-1] % targets == c)
        if members.any():
            gaps[c] = np.median(step[members])
    if np.isnan(gaps).any():
        return None
    pattern: FloatArray = gaps / gaps.mean()
    return pattern
