"""Runs under MicroPython: the board's main program for three and a half seconds, on pins that this script moves.

Argument: the folder of the modules. Commands come on standard input, lines go to standard output.
"""

import sys
import time

sys.path.insert(0, sys.argv[1])

import machine
import main

board = main.Board(sys.stdout.buffer)
began = time.ticks_us()
moved = 0
while time.ticks_diff(time.ticks_us(), began) < 3_500_000:
    board.turn()
    due = time.ticks_diff(time.ticks_us(), began) // 10_000
    if due > moved and moved < 200:
        pin = machine.pins[main.PINS[moved % 4]]
        pin.move(0)
        pin.move(1)
        moved += 1
