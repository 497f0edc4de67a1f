"""One draw: the yarn between two take-ups."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SpunDraw:
    """Times in seconds since the log's first row; what is not known is None (lines lost in it, or no sensor for it).

    start_s: when the draw before was in; winding_s: when this one began to go in; end_s: when it was in.
    flyer_turns: from start to end; waiting_turns: those made before it began to wind on. treadles: wheel turns.
    stood_s: how long the wheel stood meanwhile.
    """

    start_s: float
    winding_s: float | None
    end_s: float
    length_m: float | None
    flyer_turns: float | None
    waiting_turns: float | None
    treadles: float | None
    stood_s: float

    @property
    def tpm(self) -> float | None:
        """Twist in turns per metre."""
        return self.flyer_turns / self.length_m if self.length_m and self.flyer_turns is not None else None

    @property
    def lasted_s(self) -> float:
        """From the end of the draw before to its own."""
        return self.end_s - self.start_s
