"""A number that is out of line alone is a damaged number, not thousands of lost lines."""

import random

import pytest

from whorlpulse.wire import Decoder, Pulse, encode_pulse


def tally(*numbers):
    decoder = Decoder()
    decoder.feed(b"".join(b"f,%d,%d\n" % (1000 * i, n) for i, n in enumerate(numbers)))
    decoder.finish()
    return decoder.tally


@pytest.mark.parametrize(
    ("numbers", "lost", "restarted"),
    [
        ((10, 11, 4276, 13, 14), 0, 0),  # far ahead and back again
        ((10, 11, 60000, 13, 14), 0, 0),  # "backwards" and on again
        ((10, 11, 4276, 16, 17), 3, 0),  # three lines lost beside it
        ((10, 11, 4276, 4277, 4278), 4264, 0),  # a real loss goes on from where it jumped
        ((10, 11, 3, 4, 5), 0, 1),  # a real restart too
        ((65534, 65535, 300, 1, 2), 0, 0),  # over the wrap
        ((10, 17, 19, 20), 7, 0),  # two real losses, one after the other
    ],
)
def test_a_number_out_of_line(numbers, lost, restarted):
    found = tally(*numbers)
    assert (found.lost, found.restarted, found.pulses) == (lost, restarted, len(numbers))


@pytest.mark.parametrize("seed", range(60))
def test_a_line_that_lost_its_star_is_a_line_with_the_tick_that_was_sent(seed):
    """The checksum is optional, so it cannot be told from one without; only its number is wrong, and is taken back."""
    dice = random.Random(seed)
    first, ticks = dice.randrange(65536), [20_000 * i for i in range(1, 41)]
    lines = [encode_pulse("f", tick, (first + i) % 65536) for i, tick in enumerate(ticks)]
    at = dice.randrange(5, 35)
    lines[at] = lines[at].replace(b"*", dice.choice([b"", b"", b"3"]))
    decoder = Decoder()
    messages = decoder.feed(b"".join(lines)) + decoder.finish()
    found, damaged = decoder.tally, decoder.tally.malformed_lines
    assert (found.lost, found.restarted, found.pulses + damaged) == (0, 0, 40)
    sent = ticks if not damaged else ticks[:at] + ticks[at + 1 :]  # its two last digits may be letters
    assert [m.tick for m in messages if isinstance(m, Pulse)] == sent
