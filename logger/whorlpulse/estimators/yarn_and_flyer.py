"""What twist is made of, yarn and flyer turns, from whatever is sensed: flyer, bobbin, roller, length lines, a total.

A length that was measured (total, roller, lines) goes before the one wound on (`bobbin_length`), and the flyer's own
pulses before those of the bobbin (`flyer_unseen`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from whorlpulse.conditioning.chain import Conditioned, Piece
from whorlpulse.estimators.bobbin_length import NoBobbinLength, bobbin_length
from whorlpulse.estimators.flyer_unseen import flyer_by_bobbin
from whorlpulse.estimators.measured import Measured
from whorlpulse.length import MeasuredLength, measured_length
from whorlpulse.phase import FlyerCount, flyer_count
from whorlpulse.pulses import BOBBIN
from whorlpulse.rig import Rig

Reason = Literal["no-flyer", "no-length", "no-take-up", "no-bobbin-core", "no-bobbin-growth"]


class NoTwist(ValueError):  # noqa: N818  it is an answer, not a mistake
    """The log can't say its twist, for a reason."""

    def __init__(self, reason: Reason) -> None:
        super().__init__(reason)
        self.reason = reason


@dataclass(frozen=True)
class YarnAndFlyer:
    """What twist is made of: the yarn's length and the flyer's turns, and what the bobbin had to do with them.

    wound: turns wound on; full: the package's diameter in metres at the end; flyer_unseen: the bobbin stood for it;
    passages: when the yarn went in, told as by a roller (length by the bobbin only).
    """

    yarn: MeasuredLength
    flyer: FlyerCount
    wound: Measured | None = None
    full: Measured | None = None
    flyer_unseen: bool = False
    passages: tuple[Piece, ...] = ()

    @property
    def turns_u(self) -> float:
        """Standard uncertainty of the flyer's turns that stems from the bobbin's diameter."""
        return self.wound.u if self.flyer_unseen and self.wound is not None else 0.0


def yarn_and_flyer(log: Conditioned, rig: Rig, count_tex: float | None = None) -> YarnAndFlyer:
    """Return length and flyer turns of a conditioned log, from the flyer, the bobbin, or both.

    count_tex: the yarn's count, None where not planned. Raises NoTwist when flyer or length are missing.
    """
    flyer, yarn = flyer_count(log), measured_length(log, rig)
    try:
        if flyer is None and yarn is not None:
            unseen = flyer_by_bobbin(log, rig, yarn, count_tex)
            if unseen is not None:
                return YarnAndFlyer(yarn, unseen.count, unseen.wound, unseen.full, flyer_unseen=True)
        if flyer is None:
            raise NoTwist("no-flyer" if yarn is not None or len(log.trains[BOBBIN]) < 2 else "no-length")
        if yarn is not None:
            return YarnAndFlyer(yarn, flyer)
        wound = bobbin_length(log, rig, count_tex)
    except NoBobbinLength as lacking:
        raise NoTwist(lacking.reason) from None
    if wound is None:
        raise NoTwist("no-length" if len(log.trains[BOBBIN]) < 2 else "no-take-up")
    return YarnAndFlyer(wound.yarn, flyer, wound.turns, wound.full, passages=wound.passages)
