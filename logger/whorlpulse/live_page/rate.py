"""How often something may happen: a bucket that fills steadily and is emptied by use, one for each peer."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from typing import Final

#: So many peers are remembered; beyond, the one unseen for longest is forgotten.
_MOST_PEERS: Final = 1024


class Rate:
    """Allows `most` at once and `per_s` a second on, for each peer by itself."""

    def __init__(self, most: float, per_s: float, clock: Callable[[], float]) -> None:
        """clock: seconds that never go backwards."""
        self._most, self._per_s, self._clock = most, per_s, clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()  # peer: what was left, and when

    def left(self, peer: str) -> float:
        """Return how many times it may happen now; below 1 it may not."""
        left, at_s = self._left.get(peer, (self._most, self._clock()))
        return min(self._most, left + (self._clock() - at_s) * self._per_s)

    def take(self, peer: str) -> bool:
        """Use one; False if none is left."""
        left = self.left(peer)
        allowed = left >= 1.0
        self._left[peer] = (left - allowed, self._clock())
        self._left.move_to_end(peer)
        while len(self._left) > _MOST_PEERS:
            self._left.popitem(last=False)
        return allowed
