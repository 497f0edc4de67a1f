"""Pulse board for a spinning wheel, for 32-bit boards that run MicroPython: copy all four files onto the board.

Set the pins and the targets below to suit. Each sensor pulls its pin low while it sees a target. Ctrl-C stops the
program, as on any such board.
"""

import select
import sys
import time

import machine
from conversation import Conversation
from pulseline import TICK_MASK
from pulsequeue import Queue, Sensors

PINS = (2, 3, 4, 5)  # drive wheel, flyer, bobbin, take-up roller: GPIO numbers
TARGETS = (4, 2, 2, 1)  # targets per turn, in the same order
BOARD = "whorlpulse reference for MicroPython, version 1"

KEEP_ALIVE_US = 1000000


def watch(pin, channel, sensors):
    """Have every edge of `pin` noted. Hard interrupts where the port has them: those do not wait for the program."""

    def edge(changed):
        tick = time.ticks_us()  # before anything else: this is the moment of the pulse
        sensors.edge(channel, changed.value() == 0, tick)

    sensors.begin(channel, pin.value() == 0)
    both = machine.Pin.IRQ_FALLING | machine.Pin.IRQ_RISING
    try:
        pin.irq(handler=edge, trigger=both, hard=True)
    except (TypeError, ValueError):
        pin.irq(handler=edge, trigger=both)


class Board:
    """The program's one loop, a turn at a time."""

    def __init__(self, out):
        self._out = out
        self._queue = Queue()
        self._sensors = Sensors(self._queue)
        self._talk = Conversation(self._queue, self._sensors, TARGETS, BOARD)
        self._ears = select.poll()
        self._ears.register(sys.stdin, select.POLLIN)
        self._due = time.ticks_add(time.ticks_us(), KEEP_ALIVE_US)
        out.write(self._talk.greeting())
        for channel in range(len(PINS)):
            pin = machine.Pin(PINS[channel], machine.Pin.IN, machine.Pin.PULL_UP)
            watch(pin, channel, self._sensors)

    def turn(self):
        """Keep alive, listen, send one line; idle when there is nothing to send."""
        if time.ticks_diff(time.ticks_us(), self._due) >= 0:
            self._keep_alive()
        if self._ears.poll(0):
            for byte in sys.stdin.buffer.read(1):  # none when the host has hung up
                self._hear(byte)
        line = self._queue.take()
        if line is None:
            machine.idle()
        else:
            self._out.write(line)

    def _hear(self, byte):
        if not self._talk.hear(byte):
            return
        interrupts = machine.disable_irq()
        answer = self._talk.answer(time.ticks_us() & TICK_MASK)
        machine.enable_irq(interrupts)
        self._out.write(answer)

    def _keep_alive(self):
        interrupts = machine.disable_irq()
        tick = time.ticks_us() & TICK_MASK
        queued = self._queue.keep_alive(tick)
        if queued:
            self._sensors.forget_old(tick)
        machine.enable_irq(interrupts)
        if queued:
            self._due = time.ticks_add(self._due, KEEP_ALIVE_US)
            self._out.write(self._talk.ignored_if_more())


if __name__ == "__main__":
    board = Board(sys.stdout.buffer)
    while True:
        board.turn()
