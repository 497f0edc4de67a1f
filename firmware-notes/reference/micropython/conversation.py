"""What the host may ask, and the answers: `hello`, `state`, `settle MICROS`, `settle C MICROS`. Pure."""

from pulseline import LETTERS, hello, meta_line, per_channel
from pulsequeue import LONGEST_SETTLE_US

_LONGEST_COMMAND = 23


class Conversation:
    """Puts arriving bytes together to commands and answers them; no bytes make it raise."""

    def __init__(self, queue, sensors, targets, board):
        self._queue = queue
        self._sensors = sensors
        self._targets = targets
        self._board = board
        self._line = bytearray()
        self._too_long = False
        self._ignored_said = 0

    def greeting(self):
        """What the board says when it starts: the greeting, and that the clock begins anew."""
        return hello(self._targets, self._board) + meta_line("clock", "restarted")

    def hear(self, byte):
        """Take one byte; True when a command is whole: call `answer` then, with interrupts off."""
        if byte == 13:
            return False
        if byte == 10:
            return self._too_long or len(self._line) > 0
        if len(self._line) == _LONGEST_COMMAND:
            self._too_long = True
        else:
            self._line.append(byte)
        return False

    def answer(self, tick):
        """The answer to the command just heard, as bytes."""
        command, too_long = bytes(self._line), self._too_long
        self._line, self._too_long = bytearray(), False
        if too_long:
            return meta_line("refused", "command too long or damaged")
        if command == b"hello":
            return hello(self._targets, self._board)
        if command == b"state":
            return self._state(tick)
        if command.startswith(b"settle "):
            return self._settle(command[7:])
        return meta_line("refused", "no such command; there are hello, state, settle")

    def ignored_if_more(self):
        """A line with the edges ignored so far if there are more than last time, else no bytes."""
        total = sum(self._sensors.ignored)
        if total == self._ignored_said:
            return b""
        self._ignored_said = total
        return meta_line("ignored", per_channel(self._sensors.ignored))

    def _state(self, tick):
        figures = (tick, self._queue.next_seq, self._queue.lost_total)
        return (
            meta_line("state", "tick=%d seq=%d lost=%d" % figures)
            + meta_line("ignored", per_channel(self._sensors.ignored))
            + meta_line("settle_us", per_channel(self._sensors.settle_us))
        )

    def _settle(self, arguments):
        channels = range(len(LETTERS))
        if arguments[1:2] == b" " and arguments[0] < 128 and chr(arguments[0]) in LETTERS:
            channels = (LETTERS.index(chr(arguments[0])),)
            arguments = arguments[2:]
        micros = _whole_number(arguments)
        if micros is None or micros > LONGEST_SETTLE_US:
            return meta_line("refused", "settle takes a channel letter or none, then 0 to 100000 microseconds")
        for channel in channels:
            self._sensors.set_settle(channel, micros)
        return meta_line("settle_us", per_channel(self._sensors.settle_us))


def _whole_number(text):
    if not text:
        return None
    value = 0
    for byte in text:
        if not 48 <= byte <= 57:
            return None
        value = value * 10 + byte - 48
    return value
