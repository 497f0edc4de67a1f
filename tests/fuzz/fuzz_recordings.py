"""Properties of the importers, for any bytes: documented refusals only, and a log that reads back whole."""

from __future__ import annotations

import zlib

import numpy as np
from fuzz_lines import one_line

from whorlpulse.actions.convert import Asked, as_log, kind_of, read_recording
from whorlpulse.importers import NothingFound, Recording, Unreadable
from whorlpulse.wire import Damaged, Decoder, Meta, Pulse

#: What the user may have said, chosen by the bytes themselves.
_WAV = (Asked(), Asked(shafts={"w": "left", "f": "2"}), Asked(falling=True), Asked(shafts={"f": "mono"}, falling=False))
_VCD = (Asked(), Asked(shafts={"w": "wheel", "f": "bus[3]"}), Asked(falling=True), Asked(shafts={"f": "top.flyer"}))
_CSV = (
    Asked(),
    Asked(times_in="1", unit="ms"),
    Asked(shafts={"w": "2", "f": "3"}, falling=True),
    Asked(times_in="time", unit="ns"),
    Asked(shafts={"f": "flyer"}),
)


def wav(data: bytes) -> None:
    """Any bytes as sound."""
    _check("wav", data, _WAV)


def vcd(data: bytes) -> None:
    """Any bytes as a logic analyser's dump."""
    _check("vcd", data, _VCD)


def csv(data: bytes) -> None:
    """Any bytes as a table."""
    _check("csv", data, _CSV)


def _check(kind, data: bytes, ways: tuple[Asked, ...]) -> None:
    kind_of(data[:65536], "x.dat")
    asked = ways[zlib.crc32(data) % len(ways)]
    try:
        recording = read_recording(kind, data, asked)
    except (Unreadable, NothingFound) as refused:
        one_line(str(refused))
        return
    _sound(recording)
    _reads_back(recording, as_log(recording, asked, "x.dat"))


def _sound(recording: Recording) -> None:
    assert 0 < recording.tick_hz < np.inf
    assert len(recording.tick) == len(recording.channel) > 0
    assert recording.tick.min() >= 0
    assert (np.diff(recording.tick) >= 0).all(), "ticks go back"
    assert set(recording.channel.tolist()) <= set(b"wfby")
    assert recording.count is None or recording.count.min() >= 1


def _reads_back(recording: Recording, text: bytes) -> None:
    """The log has every pulse at its tick, and nothing damaged, lost or torn."""
    decoder = Decoder()
    messages = decoder.feed(text) + decoder.finish()
    assert not any(isinstance(m, Damaged) for m in messages)
    tally = decoder.tally
    assert (tally.lost, tally.restarted, tally.torn_tail, tally.bad_checksum) == (0, 0, False, 0)
    pulses = [m for m in messages if isinstance(m, Pulse) and m.channel != "k"]
    assert [m.tick for m in pulses] == recording.tick.tolist()
    assert [ord(m.channel) for m in pulses] == recording.channel.tolist()
    assert recording.count is None or [m.count for m in pulses] == recording.count.tolist()
    assert sum(isinstance(m, Meta) and m.key == "note" for m in messages) == 1 + len(recording.notes)
