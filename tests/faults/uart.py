"""Bytes on a serial line as a receiver of another rate hears them: 8 data bits, no parity, one stop bit.

The line is idle high; a byte is a low start bit, its bits with the lowest first, a high stop bit. The receiver waits
for the line to fall and looks at the middle of each bit by its own rate (common practice of such receivers, no
source). Where the stop bit is low it has lost the frame, and hands the byte on all the same, as many drivers do.
"""

from __future__ import annotations

_FINE = 8  # places at which the line is looked at for each bit of the sender


def heard_at(rate: float, sent: bytes) -> bytes:
    """What a receiver makes of it whose rate is `rate` times the sender's."""
    line: list[int] = []
    for byte in sent:
        bits = [0, *((byte >> i) & 1 for i in range(8)), 1]
        for bit in bits:
            line += [bit] * _FINE
    line += [1] * (20 * _FINE)
    bit_wide = _FINE / rate
    heard, at = bytearray(), 0
    while at < len(line):
        if line[at] or not (at and line[at - 1]):  # not a falling edge
            at += 1
            continue
        middles = [int(at + (k + 0.5) * bit_wide) for k in range(10)]
        if middles[-1] >= len(line):
            break
        looked = [line[m] for m in middles]
        if looked[0] == 0:
            heard.append(sum(bit << i for i, bit in enumerate(looked[1:9])))
            at = middles[-1]
        else:
            at += 1
    return bytes(heard)
