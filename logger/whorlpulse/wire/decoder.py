"""Bytes in, messages out, and no input or output of its own: the pulse-log protocol as a state machine.

Any bytes in any chunking are safe: the messages depend on the bytes only, and memory is bounded by one line.
"""

from __future__ import annotations

from whorlpulse.wire.grammar import (
    BAD_CHECKSUM,
    LINE_LIMIT,
    REPEATED,
    TOO_LONG,
    TORN,
    damaged,
    read_line,
    seq_bits_of,
)
from whorlpulse.wire.messages import Damaged, Gap, Message, Meta, Pulse
from whorlpulse.wire.sequence import REPEAT, SequenceWatch
from whorlpulse.wire.tally import Tally


class LineJudge:
    """Judges lines one after another: what each says, and what is missing before it.

    seq_bits: width of the sequence number until a `seq_bits` line says otherwise. heed_seq_bits: False keeps
    to the given width whatever the stream says (for a second reading, when the last such line is known).
    """

    def __init__(self, seq_bits: int = 16, *, heed_seq_bits: bool = True) -> None:
        """Start before the first line."""
        self.tally = Tally()
        self.watch = SequenceWatch(seq_bits, self.tally)
        self._heed = heed_seq_bits

    def judge(self, text: bytes) -> list[Message]:
        """Return the messages of one whole line, given without its LF: none, one, or a gap and one."""
        self.tally.total += 1
        line = self.tally.total
        message = read_line(text, line)
        if isinstance(message, Pulse):
            return self._pulse(message, text)
        if message is None:
            self.tally.empty += 1
            return []
        if isinstance(message, Meta):
            self._meta(message)
        else:
            self._damaged(message)
        return [message]

    def too_long(self, start: bytes) -> Damaged:
        """Return the message for a line that is cut off because it has no end in sight."""
        self.tally.total += 1
        message = damaged(start, self.tally.total, TOO_LONG)
        self._damaged(message)
        return message

    def judge_tail(self, text: bytes) -> list[Message]:
        """Return the messages of a last line without LF.

        A pulse line that was cut can look whole, with fewer digits; only its checksum shows that it is not.
        """
        message = read_line(text, self.tally.total + 1)
        whole = message is None or isinstance(message, Meta)
        if isinstance(message, Pulse):
            whole = b"*" in text
        if isinstance(message, Damaged):
            whole = message.cause == TOO_LONG
        if whole:
            return self.judge(text)
        self.tally.total += 1
        self.tally.torn_tail = True
        return [damaged(text, self.tally.total, TORN)]

    def _pulse(self, pulse: Pulse, text: bytes) -> list[Message]:
        before = self.watch.follow(pulse.channel, pulse.tick, pulse.seq)
        if before == REPEAT:
            self.tally.add_malformed(REPEATED, pulse.line)
            return [damaged(text, pulse.line, REPEATED)]
        self.tally.add_pulse_line(pulse.channel)
        return [pulse] if before is None else [Gap(pulse.line, before), pulse]

    def _meta(self, meta: Meta) -> None:
        self.tally.metadata += 1
        if meta.key == "seq_bits" and self._heed:
            bits = seq_bits_of(meta.value)
            if bits is not None:
                self.watch.set_bits(bits)

    def _damaged(self, message: Damaged) -> None:
        bad_checksum = message.cause == BAD_CHECKSUM
        if bad_checksum:
            self.tally.add_bad_checksum(message.line)
        else:
            self.tally.add_malformed(message.cause, message.line)
        self.watch.damage(bad_checksum=bad_checksum)


class Decoder:
    """Decodes a pulse log or a live stream: `feed` what arrives, `finish` at its end; `tally` at any time."""

    def __init__(self, seq_bits: int = 16, *, heed_seq_bits: bool = True) -> None:
        """seq_bits: as the stream's last `seq_bits` line says, where that is known beforehand."""
        self._judge = LineJudge(seq_bits, heed_seq_bits=heed_seq_bits)
        self._pending = bytearray()
        self._skipping = False  # inside a line that was cut off as too long
        self._finished = False

    @property
    def tally(self) -> Tally:
        """What became of the lines so far."""
        return self._judge.tally

    def feed(self, data: bytes) -> list[Message]:
        """Return the messages of the lines that these bytes complete."""
        if self._finished:
            raise RuntimeError("this decoder has finished; use a new one for another stream")
        messages: list[Message] = []
        *ended, rest = data.split(b"\n")
        for piece in ended:
            if self._skipping:
                self._skipping = False
            else:
                messages += self._judge.judge(bytes(self._pending) + piece)
            self._pending.clear()
        if not self._skipping:
            self._pending += rest
            # one byte more than a line may have: it could be the CR
            if len(self._pending) > LINE_LIMIT + 1:
                messages.append(self._judge.too_long(bytes(self._pending)))
                self._pending.clear()
                self._skipping = True
        return messages

    def finish(self) -> list[Message]:
        """Return the messages of a last line that has no LF; nothing can be fed afterwards."""
        self._finished = True
        if not self._pending:
            return []
        tail = bytes(self._pending)
        self._pending.clear()
        return self._judge.judge_tail(tail)
