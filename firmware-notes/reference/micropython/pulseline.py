"""Lines of the pulse log as a board sends them: pure text, the same under MicroPython and CPython."""

# Small whole numbers on a 32-bit board have 31 bits, and its microsecond counter wraps at 2**30: 17.9 minutes.
TICK_BITS = 30
TICK_MASK = (1 << TICK_BITS) - 1
SEQ_BITS = 16
SEQ_MASK = (1 << SEQ_BITS) - 1
LETTERS = "wfby"  # drive wheel, flyer, bobbin, yarn take-up roller


def checksum(body):
    """Exclusive or of all bytes of `body`."""
    total = 0
    for byte in body:
        total ^= byte
    return total


def pulse_line(letter, tick, seq, count=1):
    """One pulse line as bytes; `count` is written only where it says something."""
    text = "%s,%d,%d" % (letter, tick, seq)
    if count != 1:
        text += ",%d" % count
    body = text.encode()
    return body + b"*%02X\n" % checksum(body)


def meta_line(key, value):
    """One `# key: value` line as bytes."""
    return ("# %s: %s\n" % (key, value)).encode()


def per_channel(values):
    """`w=1 f=2 ...` for one value a channel, in the order of LETTERS."""
    return " ".join("%s=%d" % pair for pair in zip(LETTERS, values))


def hello(targets, board):
    """The greeting as bytes: how to read what follows. targets: targets per turn, in the order of LETTERS."""
    return b"".join(
        (
            meta_line("format", "pulses 1"),
            meta_line("tick_hz", "1000000"),
            meta_line("tick_bits", TICK_BITS),
            meta_line("seq_bits", SEQ_BITS),
            meta_line("targets", per_channel(targets)),
            meta_line("board", board),
        )
    )
