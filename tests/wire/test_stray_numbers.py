"""A number that is out of line alone is a damaged number, not thousands of lost lines."""

import pytest

from whorlpulse.wire import Decoder


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
