"""A board in a process of its own: `feeder.py RATE SECONDS` sends pulses on a pseudo-terminal.

Prints the port's name, waits for a line on standard input, then sends RATE lines a second, one at a time, nine
flyer pulses to one of the wheel. A line's tick is the computer's monotonic clock in microseconds just before it
is written, so whoever reads it can tell how long it was on its way.
"""

from __future__ import annotations

import os
import sys
import time
import tty

from whorlpulse.wire import encode_pulse


def main() -> None:
    rate, seconds = float(sys.argv[1]), float(sys.argv[2])
    master, slave = os.openpty()
    tty.setraw(slave)
    print(os.ttyname(slave), flush=True)
    sys.stdin.readline()
    os.write(master, b"# format: pulses 1\n# tick_bits: 0\n# targets: w=1 f=1\n")
    began_s = time.monotonic()
    n = int(rate * seconds)
    for i in range(n):
        rest_s = began_s + i / rate - time.monotonic()
        if rest_s > 0:
            time.sleep(rest_s)
        channel = "w" if i % 10 == 0 else "f"
        os.write(master, encode_pulse(channel, time.monotonic_ns() // 1000, i % 65536))
    print("sent", n, flush=True)
    sys.stdin.readline()


main()
