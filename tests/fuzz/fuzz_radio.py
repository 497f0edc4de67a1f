"""Properties of what a radio sensor may send: any notifications at any times make a log that reads back whole."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator

from whorlpulse.wire import Damaged, Decoder, Meta, Pulse
from whorlpulse.wire.csc.again import csc_events, same_lines, tied_afterwards
from whorlpulse.wire.csc.counts import EventClock, Malformed, Restarted, ShaftCount, Still, Turned, Unplaced, decode
from whorlpulse.wire.csc.lines import CscLines, Frame, Silence

_ROLES = (["wf"], ["w"], ["f"], ["w", "f"])
_HOST_S = 1_700_000_000.0
#: One recording in so many is tied once more afterwards, which takes longest.
_AGAIN_ONE_IN = 8


def payload(data: bytes) -> None:
    """Notifications one after another, of a length byte and so many bytes each: counts, and what they add up to.

    No byte is used twice, counts have the widths that the service gives them, and turns that were told of are those
    between the first count and the last believed one, unless the count began anew.
    """
    clock = EventClock()
    shafts = [ShaftCount(clock, crank=False), ShaftCount(clock, crank=True)]
    turned, bases, at, host_s = [0, 0], [-1, -1], 0, _HOST_S
    while at < len(data):
        size, at = data[at] % 24, at + 1
        notified, at = data[at : at + size], at + size
        host_s += 0.5 + (size == 23) * 61.0
        found = decode(notified)
        if isinstance(found, Malformed):
            assert found.why
            assert len(notified) < 11
            continue
        for i, count in enumerate((found.wheel, found.crank)):
            if count is None:
                continue
            assert 0 <= count.revolutions < (1 << 32, 1 << 16)[i]
            assert struct.pack(("<IH", "<HH")[i], count.revolutions, count.event) in notified
            step = shafts[i].follow(count, host_s)
            bases[i], turned[i] = _added(step, count.revolutions, bases[i], turned[i], crank=i == 1)


def _added(step, revolutions: int, base: int, turned: int, *, crank: bool) -> tuple[int, int]:
    """Return the count from which turns are told and how many were, after one step; they must go together."""
    if isinstance(step, Restarted) or base < 0:
        assert isinstance(step, Restarted | Still)
        return revolutions, 0
    if isinstance(step, Turned):
        assert step.revolutions > 0
        turned += step.revolutions
        assert (base + turned - revolutions) % (1 << 16 if crank else 1 << 64) == 0
    assert isinstance(step, Turned | Still | Unplaced)
    return base, turned


def csc(data: bytes) -> None:
    """Notifications recorded: each payload is kept as it came, no line is damaged, ticks go back only at restarts.

    The first byte says which sensors there are; then each notification is a byte of which, when and how long, and that
    many bytes.
    """
    roles = _ROLES[data[0] % 4] if data else ["wf"]
    lines = CscLines(roles)
    events = list(_events(data[1:], roles))
    out = [lines.header()]
    out += [lines.feed(event) if isinstance(event, Frame) else lines.silent(event) for event in events]
    out.append(lines.finish())
    _check(b"".join(out), events)


def _events(data: bytes, roles: list[str]) -> Iterator[Frame | Silence]:
    host_s, at = _HOST_S, 0
    while at + 2 <= len(data):
        how, pause, at = data[at], data[at + 1], at + 2
        host_s = round(host_s + (pause / 256.0 if pause < 240 else (pause - 239) * 9.7), 6)
        role = roles[how & 1] if len(roles) > 1 else roles[0]
        if how >> 1 & 15 == 15:
            yield Silence(host_s, role)
            continue
        size = (7, 11, 11, 5, 7, 11, 7, how >> 4)[how >> 1 & 7]
        yield Frame(host_s, role, data[at : at + size])
        at += size


def _check(text: bytes, events: list[Frame | Silence]) -> None:
    decoder = Decoder()
    messages = decoder.feed(text) + decoder.finish()
    assert not any(isinstance(m, Damaged) for m in messages)
    raw = [m.value.split()[2] for m in messages if isinstance(m, Meta) and m.key == "csc-raw"]
    assert raw == [e.payload.hex() or "-" for e in events if isinstance(e, Frame)]
    last, seq = 0, -1
    for m in messages:
        if isinstance(m, Pulse):
            if m.seq != 0:
                assert m.seq == seq + 1, "a line number is missing"
                assert m.tick >= last, "the clock goes back"
            seq, last = m.seq, m.tick
            assert m.count >= 1
    assert decoder.tally.torn_tail is False
    again = csc_events(messages)
    kept = [e for e in events if isinstance(e, Frame)]
    assert [e for e in again if isinstance(e, Frame)] == kept
    if any(isinstance(e, Frame) for e in again) and zlib.crc32(text) % _AGAIN_ONE_IN == 0:
        same_lines(again)
        tied_afterwards(again)
