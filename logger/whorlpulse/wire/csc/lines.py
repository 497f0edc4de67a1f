"""From CSC notifications to pulse-log lines on one clock; the same frames always give the same lines.

No input or output, no clock of its own: time is what the frames bring. So a log's `csc-raw` lines, fed again,
give again what was recorded, or, tied afterwards with all points known, something better.

One sensor: the log's clock is the sensor's own. Two sensors: it is the host's, and each sensor's events are put
on it by its tie. Lines are held back until nothing older can come, because ticks in a log do not go back.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from whorlpulse.wire.csc.clock_tie import QUANTUM_U_S
from whorlpulse.wire.csc.counts import TICKS_PER_S, Malformed, Restarted, Turned, Unplaced, decode
from whorlpulse.wire.csc.sensor import CscSensor, Heard, Placement
from whorlpulse.wire.encoder import encode_meta, encode_pulse

TICK_HZ: Final = 1_000_000
#: By these words the log's own note is known again.
ABOUT: Final = "cycling speed and cadence notifications on"

#: What a sensor serves: `w` or `f` for one shaft, `wf` for wheel and crank counts together.
ROLES: Final = ("w", "f", "wf")

#: Two sensors: until the ties are this good, or so long after both have turned, lines wait.
_GOOD_TIE_S: Final = 0.010
_WARM_UP_S: Final = 30.0
#: An event may still come from a notification that was this long on its way.
_ON_THE_WAY_S: Final = 0.25
#: A sensor that is heard but late holds the others' lines back no longer than this.
_LONGEST_HOLD_S: Final = 4.0
_KEEP_ALIVE_S: Final = 1.0
_SYNC_S: Final = 10.0


@dataclass(frozen=True, slots=True)
class Frame:
    """A notification: when it arrived (seconds on the host's even clock), whose it is, its bytes."""

    host_s: float
    role: str
    payload: bytes


@dataclass(frozen=True, slots=True)
class Silence:
    """The link to a sensor is lost."""

    host_s: float
    role: str


class CscLines:
    """Turns frames of one or two sensors into the bytes of a pulse log, raw payloads included."""

    def __init__(
        self,
        roles: Sequence[str],
        note: str = "",
        placements: Mapping[str, Sequence[Placement]] | None = None,
        *,
        collect: bool = False,
    ) -> None:
        """roles: one of `ROLES`, or `w` and `f`. placements: ties known beforehand, by role and epoch.

        collect: keep every report for `heard`.
        """
        if sorted(roles) not in ([r] for r in ROLES) and sorted(roles) != ["f", "w"]:
            raise ValueError(f"roles must be one of w, f, wf, or w and f, not {list(roles)}")
        known = placements or {}
        self._sensors = {role: CscSensor(role, known.get(role)) for role in roles}
        self._tied = len(self._sensors) > 1
        self._collect = collect
        self._note = note
        self._zero_s: float | None = None
        self._held: list[tuple[int, int, str, int | None]] = []  # tick, order, channel, count (None: keep-alive)
        self._parked: list[tuple[str, str, float, int]] = []  # warm-up: role, channel, event_s, count
        self._warm = not self._tied or bool(known)
        self._turned_s: dict[str, float] = {}
        self._order = 0
        self._seq = 0
        self._last_tick = 0
        self._carried: dict[str, int] = {}
        self._spoke_s = -math.inf
        self._synced_s = -math.inf
        self._told_u: dict[str, tuple[float, float]] = {}

    def header(self) -> bytes:
        """Return the first lines of the log."""
        lines = [("format", "pulses 1"), ("tick_hz", str(TICK_HZ)), ("tick_bits", "0"), ("seq_bits", "0")]
        own = "the host's" if self._tied else "the sensor's own"
        words = f"{ABOUT} {own} clock; csc-raw lines hold them as they came"
        lines.append(("note", f"{self._note}; {words}" if self._note else words))
        return b"".join(encode_meta(key, value) for key, value in lines)

    def feed(self, frame: Frame) -> bytes:
        """Return the lines that this notification allows: its raw payload, and pulse lines up to then."""
        sensor = self._sensors[frame.role]
        if self._zero_s is None:
            self._zero_s = frame.host_s - 1.0
        sensor.heard_s, sensor.linked = frame.host_s, True
        sensor.window.report(frame.host_s)
        out = [encode_meta("csc-raw", f"{frame.host_s:.6f} {frame.role} {frame.payload.hex() or '-'}")]
        found = decode(frame.payload)
        moved: Turned | None = None
        if isinstance(found, Malformed):
            out.append(self._doubt(frame, found.why))
        else:
            for channel, is_crank, count in sensor.counts(found):
                step = sensor.follow(channel, count, frame.host_s, is_crank=is_crank)
                moved = step if isinstance(step, Turned) else moved
                out += self._take(frame, sensor, channel, step)
        if self._collect:
            event_s = moved.event_ticks / TICKS_PER_S if moved else None
            sensor.heard[-1].append(Heard(frame.host_s, event_s, moved.revolutions if moved else 0, sensor.links))
        if moved:
            self._spoke_s = frame.host_s
        else:
            self._keep_alive(sensor, frame.host_s)
        out += self._due(frame.host_s)
        return b"".join(out)

    def silent(self, lost: Silence) -> bytes:
        """Return what the loss of a sensor's link allows: others' lines need no longer wait for it."""
        self._sensors[lost.role].linked = False
        self._sensors[lost.role].window.link_lost()
        self._sensors[lost.role].links += 1
        if self._zero_s is None:
            return b""
        told = encode_meta("csc-lost", f"{lost.host_s:.6f} {lost.role}")
        if not any(sensor.linked for sensor in self._sensors.values()):
            return told + b"".join(self._release(math.inf))
        return told + b"".join(self._due(lost.host_s))

    def finish(self) -> bytes:
        """Return all that was still held back; call at the end."""
        return b"".join([*self._unpark(), *self._release(math.inf), *self._ties(math.inf)])

    def uncertainty_s(self, role: str) -> float | None:
        """Return the standard uncertainty of a sensor's times on the log's clock, None before its first turn."""
        if not self._tied:
            return QUANTUM_U_S
        return self._sensors[role].uncertainty_s()

    def heard(self) -> Mapping[str, list[list[Heard]]]:
        """Return each sensor's reports by role and epoch (a sensor that starts anew begins an epoch)."""
        return {role: sensor.heard for role, sensor in self._sensors.items()}

    def _take(
        self, frame: Frame, sensor: CscSensor, channel: str, step: Turned | Unplaced | Restarted | None
    ) -> list[bytes]:
        match step:
            case Turned(revolutions, ticks):
                self._turned_s.setdefault(sensor.role, frame.host_s)
                self._place(sensor, channel, ticks / TICKS_PER_S, revolutions)
                return []
            case Unplaced(why):
                return [self._doubt(frame, why)]
            case Restarted(why):
                out = [*self._unpark(), *self._release(math.inf), self._doubt(frame, why)]
                sensor.begin_anew()
                out += self._number_anew()
                self._carried.pop(channel, None)
                return out
        return []

    def _number_anew(self) -> list[bytes]:
        """Begin the lines' numbers anew, by which the reader sees that the count did.

        Where only line 0 stands since they last did, another line 0 would look like the same one come twice.
        """
        between = [encode_pulse("k", self._last_tick, self._next_seq())] if self._seq == 1 else []
        self._seq = 0
        return between

    def _doubt(self, frame: Frame, why: str) -> bytes:
        return encode_meta("csc-doubt", f"{frame.host_s:.6f} {frame.role} {why}")

    def _place(self, sensor: CscSensor, channel: str, event_s: float, count: int) -> None:
        if not self._warm:
            self._parked.append((sensor.role, channel, event_s, count))
            return
        self._hold(self._tick(sensor, event_s), channel, count)

    def _tick(self, sensor: CscSensor, event_s: float) -> int:
        assert self._zero_s is not None
        if self._tied:
            return round((sensor.on_host(event_s) - self._zero_s) * TICK_HZ)
        if sensor.own_zero_s is None:
            sensor.own_zero_s = sensor.heard_s - event_s
        return round((event_s + sensor.own_zero_s - self._zero_s) * TICK_HZ)

    def _hold(self, tick: int, channel: str, count: int | None) -> None:
        heapq.heappush(self._held, (max(tick, 0), self._order, channel, count))
        self._order += 1

    def _keep_alive(self, sensor: CscSensor, host_s: float) -> None:
        """Say once a second that a sensor is heard though nothing turns; a little back, so as to be passed by none."""
        assert self._zero_s is not None
        if host_s - self._spoke_s < _KEEP_ALIVE_S:
            return
        self._spoke_s = host_s
        heard_s = host_s - _ON_THE_WAY_S
        tie = sensor.window.tie()
        if self._tied or tie is None or sensor.own_zero_s is None:
            tick_s = heard_s - self._zero_s
        else:  # on the sensor's own clock, as its events are
            tick_s = tie.event_s(heard_s) + sensor.own_zero_s - self._zero_s
        self._hold(round(tick_s * TICK_HZ), "k", None)

    def _due(self, host_s: float) -> list[bytes]:
        out = []
        if not self._warm and self._warmed_up(host_s):
            out += self._unpark()
        if not self._warm and self._turned_s:
            return out
        return out + self._release(self._newest_sure_s(host_s)) + self._sync(host_s) + self._ties(host_s)

    def _newest_sure_s(self, host_s: float) -> float:
        """Host time before which no event is still to come."""
        if not self._tied:
            return math.inf
        heard = min((s.heard_s for s in self._sensors.values() if s.linked), default=math.inf)
        return max(heard - _ON_THE_WAY_S, host_s - _LONGEST_HOLD_S)

    def _warmed_up(self, host_s: float) -> bool:
        first = min(self._turned_s.values(), default=math.inf)
        if len(self._turned_s) == len(self._sensors):
            ties = [s.window.tie() for s in self._sensors.values()]
            if all(tie is not None and tie.u_s <= _GOOD_TIE_S for tie in ties):
                return True
            first = max(self._turned_s.values())
            return host_s - first >= _WARM_UP_S
        return host_s - first >= 2 * _WARM_UP_S

    def _unpark(self) -> list[bytes]:
        self._warm = True
        parked, self._parked = self._parked, []
        for role, channel, event_s, count in parked:
            self._hold(self._tick(self._sensors[role], event_s), channel, count)
        return self._ties(math.inf) if parked else []

    def _release(self, sure_s: float) -> list[bytes]:
        assert self._zero_s is not None or not self._held
        limit = math.inf if sure_s == math.inf else (sure_s - (self._zero_s or 0.0)) * TICK_HZ
        out = []
        while self._held and self._held[0][0] <= limit:
            tick, _, channel, count = heapq.heappop(self._held)
            if count is None:
                out.append(encode_pulse("k", max(tick, self._last_tick), self._next_seq()))
                self._last_tick = max(tick, self._last_tick)
                continue
            count += self._carried.pop(channel, 0)
            if tick < self._last_tick:  # too late for its place: it is counted with the next one
                self._carried[channel] = count
                continue
            out.append(encode_pulse(channel, tick, self._next_seq(), count if count != 1 else None))
            self._last_tick = tick
        return out

    def _next_seq(self) -> int:
        self._seq += 1
        return self._seq - 1

    def _sync(self, host_s: float) -> list[bytes]:
        """Tie the log's clock to the host's every ten seconds."""
        if host_s - self._synced_s < _SYNC_S or self._zero_s is None:
            return []
        if self._tied:
            self._synced_s = host_s
            return [encode_meta("sync", f"{host_s:.6f} {round((host_s - self._zero_s) * TICK_HZ)}")]
        (sensor,) = self._sensors.values()
        tie = sensor.window.tie()
        if tie is None or sensor.own_zero_s is None or len(sensor.window) < 5:
            return []
        self._synced_s = host_s
        event_s = max(sensor.last_event_s.values())
        return [encode_meta("sync", f"{tie.host_s(event_s):.6f} {self._tick(sensor, event_s)}")]

    def _ties(self, host_s: float) -> list[bytes]:
        """Say the uncertainty that the ties add, first and whenever it has changed by a fifth."""
        out = []
        for role, sensor in self._sensors.items():
            told_u, told_s = self._told_u.get(role, (0.0, -math.inf))
            if host_s - told_s < _SYNC_S or not self._turned_s.get(role):
                continue
            u_s = self.uncertainty_s(role)
            if u_s is None or abs(u_s - told_u) <= 0.2 * told_u:
                continue
            self._told_u[role] = (u_s, host_s if host_s < math.inf else sensor.heard_s)
            out += [encode_meta("clock-tie", f"{channel} {u_s:.6f}") for channel in role]
        return out
