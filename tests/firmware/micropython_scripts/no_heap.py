"""Runs under MicroPython: what an interrupt calls must not ask for memory. Argument: the folder of the modules."""

import sys

import micropython

sys.path.insert(0, sys.argv[1])

from pulsequeue import Queue, Sensors

queue = Queue(16)
sensors = Sensors(queue)
sensors.set_settle(3, 1000)
tick = (1 << 30) - 3000


def edges():
    """Fill the queue and overrun it, on every channel, with and without settling, over the wrap."""
    global tick
    for channel in (0, 1, 2, 3, 3, 3):
        sensors.edge(channel, True, tick)
        sensors.edge(channel, False, tick + 200)
        tick += 400


edges()
for _ in range(3):
    queue.take()
micropython.heap_lock()
try:
    for _ in range(20):
        edges()
finally:
    micropython.heap_unlock()
while queue.take() is not None:
    pass
micropython.heap_lock()
try:
    edges()  # the first puts the overrun's own line, too
finally:
    micropython.heap_unlock()
print("pulses lost", queue.lost_total, "ignored", sensors.ignored[3])
try:
    micropython.heap_lock()
    held = [queue]  # the lock does hold
except MemoryError:
    micropython.heap_unlock()
    print("lock holds")
