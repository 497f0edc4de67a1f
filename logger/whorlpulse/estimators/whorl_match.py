"""Which whorl of the wheel file a measured ratio belongs to, and whether another could be meant as well.

A measured ratio belongs to the known ratio nearest to it by proportion, within `SAME_WHORL`; each known one is given
once, nearest pairs first (as `ratio` names its whorls). Another known ratio that lies nearly as near makes it
ambiguous, and so do two measured ones that want the same whorl. Whorls of one wheel differ by a tenth or more, and a
band hardly loses a twelfth of its turns (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

#: A whorl is the one that was spun on when its ratio is within this part of the measured one.
SAME_WHORL = 0.08
#: Another one is as likely when it lies no further off than so many times the nearest, or by this part more.
_TIMES, _MORE = 2.0, 0.02


@dataclass(frozen=True)
class Match:
    """index: of the known whorl, None where none is near. rivals: other known whorls that could be it too, by index.

    shared: another measured ratio wants the same whorl.
    """

    index: int | None
    rivals: tuple[int, ...] = ()
    shared: bool = False

    @property
    def sure(self) -> bool:
        """Whether exactly this whorl is meant."""
        return self.index is not None and not self.rivals and not self.shared


def match_whorls(ratios: Sequence[float], known: Sequence[float | None]) -> list[Match]:
    """Return for each measured ratio, all positive, the known whorl it belongs to.

    known: by whorl of the file, None where nothing is known of its ratio; such a whorl is never matched.
    """
    off = {
        (g, k): abs(ratio / other - 1.0)
        for g, ratio in enumerate(ratios)
        for k, other in enumerate(known)
        if other is not None
    }
    near = {pair: by for pair, by in off.items() if by <= SAME_WHORL}
    given: dict[int, int] = {}
    for _, g, k in sorted((by, g, k) for (g, k), by in near.items()):
        if g not in given and k not in given.values():
            given[g] = k
    return [_match(g, given.get(g), near) for g in range(len(ratios))]


def _match(g: int, k: int | None, near: dict[tuple[int, int], float]) -> Match:
    if k is None:
        wanted = [other for mine, other in near if mine == g]
        return Match(None, tuple(wanted), shared=bool(wanted))
    own = near[g, k]
    rivals = [other for (mine, other), by in near.items() if mine == g and other != k and by < _limit(own)]
    shared = any(mine != g and other == k and by < _limit(own) for (mine, other), by in near.items())
    return Match(k, tuple(rivals), shared)


def _limit(own: float) -> float:
    return max(_TIMES * own, own + _MORE)
