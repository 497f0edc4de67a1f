"""The Cycling Speed and Cadence measurement: one notification's bytes to counts, counts to turns; no input or output.

Layout and rules: Bluetooth SIG, Cycling Speed and Cadence Service 1.0, section 3.1.1 (characteristic 0x2A5B). A
sensor says how often its magnet has passed since it was made or last set, and when it passed last, in 1/1024 s
modulo 64 s. Between two notifications any number of passages may lie; only the last one's time is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

TICKS_PER_S: Final = 1024
_TIME_ROLL: Final = 1 << 16
_CRANK_ROLL: Final = 1 << 16

#: Faster than this nothing on a spinning wheel turns (revolutions a second); common practice, no source.
FASTEST_PER_S: Final = 100.0
#: Unheard for longer than this, a time modulo 64 s no longer says which 64 s it belongs to.
_UNHEARD_S: Final = 60.0
#: An event may seem to lie so far ahead of the anchor's clock: the anchor's own notification came late by that.
_AHEAD_S: Final = 4.0
#: Two clocks drift apart by no more than this (sleep clocks of the radio's own standard: 500 parts in a million).
_DRIFT: Final = 500e-6
#: A wheel count that falls by no more than this is a wheel rolled back by hand; by more, a counter set anew.
_ROLLED_BACK: Final = 5
#: So many unbelievable notifications in a row mean that the counter itself jumped.
_DOUBTS: Final = 3


@dataclass(frozen=True, slots=True)
class Count:
    """revolutions: cumulative, as sent; event: raw time of the last one in 1/1024 s, modulo 65536."""

    revolutions: int
    event: int


@dataclass(frozen=True, slots=True)
class Measurement:
    """One notification; None for what the sensor did not send."""

    wheel: Count | None
    crank: Count | None


@dataclass(frozen=True, slots=True)
class Malformed:
    """A payload that is no measurement, and why."""

    why: str


def decode(payload: bytes) -> Measurement | Malformed:
    """Return what a CSC Measurement says. Any bytes are safe.

    Reserved flag bits and bytes after the last field are ignored, as the profile asks of a receiver.
    """
    if not payload:
        return Malformed("no bytes")
    flags, at = payload[0], 1
    wheel = crank = None
    if flags & 1:
        if len(payload) < at + 6:
            return Malformed("too short for the wheel's count")
        wheel = Count(
            int.from_bytes(payload[at : at + 4], "little"), int.from_bytes(payload[at + 4 : at + 6], "little")
        )
        at += 6
    if flags & 2:
        if len(payload) < at + 4:
            return Malformed("too short for the crank's count")
        crank = Count(
            int.from_bytes(payload[at : at + 2], "little"), int.from_bytes(payload[at + 2 : at + 4], "little")
        )
    return Measurement(wheel, crank)


@dataclass(frozen=True, slots=True)
class Turned:
    """revolutions since the last `Turned`; event_ticks: when the last of them was, unwrapped, in 1/1024 s."""

    revolutions: int
    event_ticks: int


@dataclass(frozen=True, slots=True)
class Still:
    """Nothing passed since the notification before (or this is the first one, which only gives the count)."""


@dataclass(frozen=True, slots=True)
class Unplaced:
    """Something passed, but its time cannot be believed: the count waits for the next time that can."""

    why: str


@dataclass(frozen=True, slots=True)
class Restarted:
    """The count began anew: what passed in between is unknown."""

    why: str


Step = Turned | Still | Unplaced | Restarted


class EventClock:
    """Unwraps the event times of one sensor: wheel and crank share its clock.

    The event that was told of soonest, moved on by the host's clock, says which 64 s a time belongs to. epoch grows
    when the sensor's clock may have started anew.
    """

    def __init__(self) -> None:
        """Start with no event known."""
        self.epoch = 0
        self._anchor: tuple[int, float] | None = None

    def place(self, event: int, host_s: float) -> int:
        """Return the unwrapped ticks of an event that a notification at `host_s` told of."""
        if self._anchor is None:
            return event
        ticks, then_s = self._anchor
        passed_s = max(0.0, host_s - then_s)
        newest = ticks + int((passed_s * (1 + _DRIFT) + _AHEAD_S) * TICKS_PER_S)
        return newest - (newest - event) % _TIME_ROLL

    def believe(self, ticks: int, host_s: float) -> None:
        """Take this event, which was placed and found plausible, as the anchor, unless it was told of later than it."""
        if self._anchor is not None:
            anchor_ticks, then_s = self._anchor
            waited_s = (host_s - then_s) - (ticks - anchor_ticks) / TICKS_PER_S
            if waited_s > _DRIFT * max(0.0, host_s - then_s):
                return
        self._anchor = (ticks, host_s)

    def restart(self) -> None:
        """Forget the anchor: the sensor's clock may have started anew."""
        self._anchor = None
        self.epoch += 1


class ShaftCount:
    """Follows one cumulative count of a sensor from notification to notification.

    crank True: the count is 16 bits wide and meant to roll over. The wheel's 32 bits never roll (section
    3.1.1.2): a smaller number there is a counter set anew, or a wheel turned backwards.
    """

    def __init__(self, clock: EventClock, *, crank: bool) -> None:
        """clock: the sensor's, shared by its counts."""
        self._clock = clock
        self._crank = crank
        self._epoch = clock.epoch
        self._base: Count | None = None  # the count up to which everything was told
        self._seen: Count | None = None  # the last notification's
        self._ticks: int | None = None  # unwrapped time of the last believed event
        self._heard_s = 0.0
        self._doubts = 0

    def follow(self, count: Count, host_s: float) -> Step:
        """Return what this notification adds. host_s: when it arrived, on any clock that runs evenly."""
        base, seen, unheard_s = self._base, self._seen, host_s - self._heard_s
        self._seen, self._heard_s = count, host_s
        if base is None or seen is None:
            self._base = count
            return Still()
        if self._epoch != self._clock.epoch:
            return self._anew(count, "the sensor started anew")
        if count.revolutions == seen.revolutions:
            return Still()
        added = count.revolutions - base.revolutions
        if self._crank:
            added %= _CRANK_ROLL
        elif count.revolutions < seen.revolutions:
            return self._fallen(count, seen.revolutions - count.revolutions)
        if unheard_s > _UNHEARD_S:
            return Unplaced(f"came back after {unheard_s:.0f} s: which 64 s its time belongs to is unknown")
        return self._placed(count, added, host_s)

    def _placed(self, count: Count, added: int, host_s: float) -> Step:
        ticks = self._clock.place(count.event, host_s)
        why = self._unbelievable(added, ticks)
        if why:
            self._doubts += 1
            return self._anew(count, why) if self._doubts >= _DOUBTS else Unplaced(why)
        self._clock.believe(ticks, host_s)
        self._base, self._ticks, self._doubts = count, ticks, 0
        return Turned(added, ticks)

    def _unbelievable(self, added: int, ticks: int) -> str:
        """Return why a count cannot be believed, nothing if it can."""
        if added == 0:  # after a count that could not be placed: a crank's has no other way to fall
            return "the count came back to where it stood"
        if self._ticks is None:
            return ""
        passed = ticks - self._ticks
        if passed <= 0:
            return "the count went on, its time did not" if passed == 0 else "its time ran backwards"
        if added * TICKS_PER_S > FASTEST_PER_S * passed:
            return f"{added} turns in {passed / TICKS_PER_S:.3f} s is faster than anything here turns"
        return ""

    def _fallen(self, count: Count, by: int) -> Restarted:
        if by > _ROLLED_BACK or count.revolutions == 0:
            return self._anew(count, f"the count fell by {by}: the sensor started anew")
        self._base, self._doubts = count, 0
        return Restarted(f"the count fell by {by}: turned backwards")

    def _anew(self, count: Count, why: str) -> Restarted:
        if self._epoch == self._clock.epoch:
            self._clock.restart()
        self._epoch = self._clock.epoch
        self._base, self._ticks, self._doubts = count, None, 0
        return Restarted(why)
