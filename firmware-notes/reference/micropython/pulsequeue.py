"""From edges to numbered lines: what was sensed and is not yet sent. Pure; safe to call from a hard interrupt.

Nothing in `Sensors.edge` and `Queue.pulse` makes a new object: a hard interrupt must not allocate.
"""

from array import array

from pulseline import LETTERS, SEQ_MASK, TICK_MASK, pulse_line

LONGEST_SETTLE_US = 100000

_KEEP_ALIVE = len(LETTERS)
_OVERRUN = _KEEP_ALIVE + 1
_LINE_LETTERS = LETTERS + "kx"


class Queue:
    """Lines in order of their numbers; the number is taken when the edge comes.

    A pulse that finds the queue full uses up its number and is counted: the host sees the gap, and an `x` line
    with the count follows. After an overrun a quarter must be free again, so that losses make few long holes.
    """

    def __init__(self, places=256):
        self._tick = array("I", [0] * places)
        self._seq = array("H", [0] * places)
        self._count = array("I", [0] * places)
        self._kind = bytearray(places)
        self._places = places
        self._room_to_resume = places // 4
        self._head = 0  # written by interrupts, or with interrupts off
        self._tail = 0  # written by the main program
        self._lost = 0
        self.next_seq = 0
        self.lost_total = 0

    def pulse(self, channel, tick):
        """Queue a pulse on channel 0 to 3, or count it as lost. Interrupts off, or in one."""
        if self._room_at(tick):
            self._put(channel, tick, 1)
        else:
            self.next_seq = (self.next_seq + 1) & SEQ_MASK
            self._lost += 1
            self.lost_total += 1

    def keep_alive(self, tick):
        """Queue a keep-alive; False when there is no room yet. Interrupts off."""
        if not self._room_at(tick):
            return False
        self._put(_KEEP_ALIVE, tick, 1)
        return True

    def take(self):
        """The oldest line as bytes, or None. From the main program."""
        at = self._tail
        if at == self._head:
            return None
        line = pulse_line(_LINE_LETTERS[self._kind[at]], self._tick[at], self._seq[at], self._count[at])
        self._tail = (at + 1) % self._places
        return line

    def _room_at(self, tick):
        room = (self._tail - self._head - 1) % self._places
        if self._lost == 0:
            return room > 0
        if room < self._room_to_resume:
            return False
        self._put(_OVERRUN, tick, self._lost)
        self._lost = 0
        return True

    def _put(self, kind, tick, count):
        at = self._head
        self._tick[at] = tick & TICK_MASK
        self._seq[at] = self.next_seq
        self._count[at] = count
        self._kind[at] = kind
        self.next_seq = (self.next_seq + 1) & SEQ_MASK
        self._head = (at + 1) % self._places


class Sensors:
    """Edges of the sensors into a queue, with settling: a pulse counts only after its pin has rested so long."""

    def __init__(self, queue):
        self._queue = queue
        self._there = bytearray(len(LETTERS))
        self._lately = bytearray(len(LETTERS))  # whether _changed still means something
        self._changed = array("I", [0] * len(LETTERS))
        self.settle_us = array("I", [0] * len(LETTERS))
        self.ignored = array("I", [0] * len(LETTERS))

    def begin(self, channel, there):
        """Tell what the sensor sees before the first edge."""
        self._there[channel] = 1 if there else 0

    def edge(self, channel, there, tick):
        """A sensor has changed; there: it sees a target now."""
        now = 1 if there else 0
        if now == self._there[channel]:
            return  # there and back before anyone looked
        self._there[channel] = now
        tick &= TICK_MASK
        settle = self.settle_us[channel]
        if settle == 0:
            if now:
                self._queue.pulse(channel, tick)
            return
        soon = self._lately[channel] and ((tick - self._changed[channel]) & TICK_MASK) < settle
        self._changed[channel] = tick
        self._lately[channel] = 1
        if now:
            if soon:
                self.ignored[channel] += 1
            else:
                self._queue.pulse(channel, tick)

    def set_settle(self, channel, micros):
        """Let a channel settle for so long, 0 to LONGEST_SETTLE_US. Interrupts off."""
        self.settle_us[channel] = micros
        self._lately[channel] = 0

    def forget_old(self, tick):
        """Forget edges long past, before the clock's wrap makes them look recent. Interrupts off."""
        for channel in range(len(LETTERS)):
            if (tick - self._changed[channel]) & TICK_MASK > LONGEST_SETTLE_US:
                self._lately[channel] = 0
