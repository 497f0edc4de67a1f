"""Runs under MicroPython and CPython alike: a long made-up session with the protocol modules, bytes to stdout.

Arguments: the folder of the modules. The events come from a small generator of our own, so that both interpreters
see the same ones; ticks start shortly before their wrap and numbers run over theirs.
"""

import sys

sys.path.insert(0, sys.argv[1])

from conversation import Conversation
from pulseline import TICK_MASK
from pulsequeue import Queue, Sensors

COMMANDS = (
    b"hello\n",
    b"state\r\n",
    b"settle 700\n",
    b"settle f 0\n",
    b"settle w 100001\n",
    b"settle q 5\n",
    b"\xff\x00\n",
    b"a line much longer than any command\n",
    b"settle 0\n",
)

noise = 20_250_614


def chance(below):
    """A whole number from 0 to below - 1 (multiplier and increment of our choice, full period modulo 2**20)."""
    global noise
    noise = (noise * 5_437 + 12_345) % (1 << 20)
    return (noise >> 4) % below


out = sys.stdout.buffer
queue = Queue(64)
sensors = Sensors(queue)
talk = Conversation(queue, sensors, (4, 2, 2, 1), "scenario")
there = [False] * 4
tick = TICK_MASK - 5_000_000
asked = 0

out.write(talk.greeting())
for step in range(160_000):
    tick = (tick + 50 + chance(2_000)) & TICK_MASK
    channel = chance(4)
    there[channel] = not there[channel]
    sensors.edge(channel, there[channel], tick)
    # most of the time the line keeps up, then for a while it does not
    if chance(8) < (7 if (step // 4_000) % 2 else 3):
        line = queue.take()
        if line is not None:
            out.write(line)
    if step % 1_000 == 999 and queue.keep_alive(tick):
        sensors.forget_old(tick)
        out.write(talk.ignored_if_more())
    if step % 5_000 == 4_999:
        for byte in COMMANDS[asked % len(COMMANDS)]:
            if talk.hear(byte):
                out.write(talk.answer(tick))
        asked += 1
while True:
    line = queue.take()
    if line is None:
        if queue.lost_total and queue.keep_alive(tick):
            queue.lost_total = 0
            continue
        break
    out.write(line)
