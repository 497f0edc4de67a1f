"""From windows in which flyer turns were lost to bursts: which to believe, when each began, what was before it.

A sensor can be taken for slip in two ways. A missed pulse that was not mended loses a whole target between two pulses;
and mending can go wrong where the wheel nearly stood, or where several pulses were missed at once. So windows in which
pulses of the wheel were mended are not believed; nor those with mended flyer pulses, or with a loss of whole targets in
a log whose flyer sensor errs, unless the flyer itself was seen on the way: its loss rises, never falls, and one of its
reported passages stands between two whole targets' worths (`LossCourse.seen_sliding`), by more than ordinary steps make
likely. Now and then a mending gone wrong looks so too. How often shows the log itself: windows that are plainly a
sensor's are counted against those that look like slip, and if they are more than a quarter as many, such windows are
not believed (the decoys of `slip_bursts` once more).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from whorlpulse.conditioning.chain import Stretch
from whorlpulse.estimators.slip_bursts import LEAST_LOST, Window
from whorlpulse.estimators.slip_log import SlipLog
from whorlpulse.estimators.slip_onset import LossCourse, loss_course
from whorlpulse.estimators.slip_series import LossSeries
from whorlpulse.phase import shaft_turns
from whorlpulse.pulses import FLYER, WHEEL, BoolArray, FloatArray

_WHOLE, _WHOLE_MENDED = 0.1, 0.2  # of a target: a loss so near to whole targets may be missed pulses
_MOST_MENDED = 1
_ERRS = 0.003  # share of mended pulses from which on a sensor errs (as the rules for missed pulses have it)
#: Of a target: an ordinary passage is hardly ever so far from its place, nor does one fall back so far.
_BETWEEN = 0.2
_ORDINARY_PERCENTILE, _BEYOND_ORDINARY = 95.0, 2.0
_ORDINARY_STEPS = 40  # looked at, spread over a stretch
_PLAINLY_MENDED = 0.25  # as many of those that look like slip
_FEW = 2  # mended wheel pulses: slip makes none
_WOUND_BEFORE_S = 0.6
_JUST_BEFORE_TURNS = 0.5


def _off_whole(passages: float) -> float:
    return abs(passages - round(passages))


@dataclass(frozen=True)
class Burst:
    """A sudden loss of lost flyer turns (standard uncertainty lost_u) from start_s to end_s, seconds of the log.

    wheel_turn: wheel turns of the log's runs before it; wheel_angle_turns: the wheel's angle then, from target 0.
    acceleration: the largest of the wheel in the half turn before, times the ratio (flyer turns/s²); harder: the share
    of the log's ordinary steps in which it accelerated less. winding: whether yarn was being wound on (None: no
    roller). lost_counted: what of it lies in the turns of the ratio; starts and stops don't. whorl: by index.
    """

    start_s: float
    end_s: float
    wheel_turn: float
    wheel_angle_turns: float
    lost: float
    lost_u: float
    acceleration: float
    harder: float
    winding: bool | None
    lost_counted: float
    whorl: int

    @property
    def counted(self) -> bool:
        """Whether most of it lies in the turns of the ratio."""
        return self.lost_counted > 0.5 * self.lost


@dataclass(frozen=True)
class Events:
    """Tells the bursts of one whorl from its loss series and their stretches. ratio: flyer turns a wheel turn."""

    own: SlipLog
    series: Sequence[LossSeries]
    stretches: Sequence[Stretch]
    ratio: float

    def believed(self, windows: Sequence[Window]) -> list[Window]:
        """The windows that are slip rather than a sensor's fault or a mending gone wrong, in their order."""
        sure = [self._sure(w) for w in windows]
        seen = [not s and self._seen_sliding(w) for s, w in zip(sure, windows, strict=True)]
        plain = len(windows) - sum(sure) - sum(seen)
        trusted = plain <= _PLAINLY_MENDED * (len(windows) - plain)
        return [w for w, s, also in zip(windows, sure, seen, strict=True) if s or (also and trusted)]

    def _sure(self, window: Window) -> bool:
        """Whether no fault of a sensor could make such a loss."""
        low, high = self._around(window)
        if self.own.mended(WHEEL, low, high) or self._wheel_miscounted(window):
            return False
        off_whole = _off_whole(window.lost * self._flyer_targets)
        mended = self.own.mended(FLYER, low, high)
        if mended:
            return mended <= _MOST_MENDED and (off_whole > _WHOLE_MENDED or not self._errs(FLYER))
        return off_whole > _WHOLE or not self._errs(FLYER)

    def _seen_sliding(self, window: Window) -> bool:
        """Whether the flyer's reported pulses show that it slid."""
        if self.own.mended(WHEEL, *self._around(window)):
            return False
        return self._course(window).seen_sliding(self._flyer_targets, self._between[window.series])

    def _around(self, window: Window) -> tuple[float, float]:
        """From and to (s), a step wider than the window on both sides."""
        t_s = self.series[window.series].piece.t_s
        return float(t_s[max(window.first - 1, 0)]), float(t_s[min(window.last + 1, len(t_s) - 1)])

    def burst(self, window: Window, ordinary: Sequence[BoolArray], noise: float, whorl: int) -> Burst:
        """Return the burst in this window. ordinary[i] (n,): the steps of series[i] that are no bursts."""
        one, course = self.series[window.series], self._course(window)
        inside = slice(window.first, window.last)
        turn = float(np.interp(course.start_s, one.piece.t_s, one.turns))
        _, part = self.own.log.angles[WHEEL].turns(one.piece.passage[[window.first]])
        back = max(round(_JUST_BEFORE_TURNS * self.own.targets), 1)
        pushed = float(self._accelerations[window.series][max(window.first - back, 0) : window.first + 1].max())
        usual = np.concatenate(
            [a[o & s.at_speed] for a, o, s in zip(self._accelerations, ordinary, self.series, strict=True)]
        )
        wound = self.own.wound_s
        near = slice(0, 0) if wound is None else slice(*np.searchsorted(wound, self._while(course)).tolist())
        return Burst(
            start_s=course.start_s,
            end_s=course.end_s,
            wheel_turn=turn,
            wheel_angle_turns=float((part[0] + turn - one.turns[window.first]) % 1.0),
            lost=window.lost,
            lost_u=noise,
            acceleration=pushed,
            harder=float(np.mean(usual < pushed)) if len(usual) else 0.5,
            winding=None if wound is None else near.stop > near.start,
            lost_counted=float(one.sudden[inside][one.at_speed[inside]].sum()),
            whorl=whorl,
        )

    def _wheel_miscounted(self, window: Window) -> bool:
        """Whether the loss is what a wheel target more than passed would make, in a log whose wheel sensor errs."""
        own, targets = self.own, self._flyer_targets
        if len(own.mended_s[WHEEL]) < _FEW:
            return False
        more = round(window.lost * own.targets / self.ratio)
        return any(
            m >= 1 and _off_whole((window.lost - m * self.ratio / own.targets) * targets) < _WHOLE_MENDED
            for m in (more - 1, more, more + 1)
        )

    @property
    def _flyer_targets(self) -> int:
        return len(self.own.log.angles[FLYER].angle)

    def _errs(self, shaft: int) -> bool:
        return len(self.own.mended_s[shaft]) > _ERRS * len(self.own.log.trains[shaft])

    def _while(self, course: LossCourse) -> tuple[float, float]:
        return course.start_s - _WOUND_BEFORE_S, course.end_s

    def _course(self, window: Window) -> LossCourse:
        return loss_course(self.series[window.series], window, self.own.targets, *self._flyers[window.series])

    @cached_property
    def _flyers(self) -> list[tuple[FloatArray, FloatArray]]:
        """Times and turns of each stretch's flyer passages that were reported; those put in stand where it was even."""
        angles = self.own.log.angles[FLYER]
        return [
            (s.flyer.t_s[~s.flyer.filled], shaft_turns(s.flyer, angles).since(0)[~s.flyer.filled])
            for s in self.stretches
        ]

    @cached_property
    def _between(self) -> list[float]:
        """For each series how far from whole targets a passage must be to stand between: parts of a target."""
        found = []
        for number, one in enumerate(self.series):
            quiet = np.flatnonzero(one.at_speed & one.single & (np.abs(one.sudden) < LEAST_LOST))
            some = quiet[:: max(len(quiet) // _ORDINARY_STEPS, 1)].tolist()
            courses = [self._course(Window(number, i, i + 1, 0.0, 0.0)).lost[1:-1] for i in some]
            off = np.abs(np.concatenate(courses)) * self._flyer_targets if courses else np.empty(0)
            ordinary = float(np.percentile(off, _ORDINARY_PERCENTILE)) if len(off) else np.inf
            found.append(max(_BEYOND_ORDINARY * ordinary, _BETWEEN))
        return found

    @cached_property
    def _accelerations(self) -> list[FloatArray]:
        """The wheel's acceleration in each step times the ratio, flyer turns/s²."""
        found = []
        for s in self.series:
            speed, t = s.step_turns / np.diff(s.piece.t_s), s.piece.t_s
            found.append(self.ratio * np.gradient(speed, 0.5 * (t[1:] + t[:-1])) if len(speed) > 1 else np.zeros(1))
        return found
