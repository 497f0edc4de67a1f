"""A board that begins anew, at whatever number it stood, against what was done to it: a restart, and no line lost."""

from __future__ import annotations

import random

import pytest

from whorlpulse.logfile import read_log
from whorlpulse.wire import Decoder, Gap, encode_pulse

TICK_SPAN = 2**32
STEP = 16_667  # ticks from line to line: sixty a second by a clock of 1 MHz


def run(first_seq: int, lines: int, first_tick: int, bits: int = 16) -> list[bytes]:
    """Lines of a board that is left alone."""
    return [encode_pulse("f", (first_tick + STEP * i) % TICK_SPAN, (first_seq + i) % 2**bits) for i in range(lines)]


def told(lines: list[bytes]) -> tuple[int, int, list[int]]:
    """Lost lines, restarts and gaps; both readers must say the same."""
    data = b"".join(lines)
    decoder = Decoder()
    gaps = [m.lines for m in decoder.feed(data) + decoder.finish() if isinstance(m, Gap)]
    read = read_log(lambda: [data])
    assert (read.tally, read.rows.gap_lines.tolist()) == (decoder.tally, gaps)
    return read.tally.lost, read.tally.restarted, gaps


STOOD_AT = (3, 900, 20_000, 32_766, 32_769, 33_000, 50_000, 64_000, 65_100, 65_530, 65_535)
#: Lines after the reset that nobody heard. The numbers must go back by it: a board that is heard again only beyond the
#: number where it stood looks as if it had lost lines, and one that stood at the very end goes plainly on at 0.
RESETS = [(at, unheard) for at in STOOD_AT for unheard in (0, 1, 40, 1000) if 0 <= unheard < at < 65_535 + unheard]


@pytest.mark.parametrize(("stood_at", "unheard"), RESETS)
def test_a_reset_is_no_loss_at_any_number(stood_at: int, unheard: int) -> None:
    before = run((stood_at - 500) % 65536, 501, 400_000_000)
    after = run(0, unheard + 300, 300_000)[unheard:]
    assert told(before + after) == (0, 1, [0])


@pytest.mark.parametrize("seed", range(40))
def test_a_loss_is_no_reset(seed: int) -> None:
    """Lines lost while the clock goes on are counted, wherever the numbers wrap around."""
    dice = random.Random(seed)
    lost = dice.choice([1, 17, 700, 5000, 20_000, 32_000])
    first_seq = dice.randrange(65536)
    if (first_seq + 300 + lost) % 65536 == 0:
        first_seq += 1  # ending at 0 by chance: see below
    lines = run(first_seq, 600 + lost, dice.randrange(TICK_SPAN // 8))
    assert told(lines[:300] + lines[300 + lost :]) == (lost, 0, [lost])


def test_what_stays_ambiguous() -> None:
    """A loss that ends at number 0 from afar is told as a restart; one of less than a thousand lines is not."""
    far = run(60_000, 8000, 1_000_000)
    assert told(far[:300] + far[65_536 - 60_000 :]) == (0, 1, [0])
    near = run(65_000, 2000, 1_000_000)
    assert told(near[:300] + near[65_536 - 65_000 :]) == (236, 0, [236])


def test_the_clock_that_wraps_around_alone_is_no_reset() -> None:
    lines = run(40_000, 3000, TICK_SPAN - 400 * STEP)
    assert told(lines[:300] + lines[900:]) == (600, 0, [600])


def test_a_radio_sensors_new_count_is_a_restart_though_its_clock_goes_on() -> None:
    before = run(45_000, 500, 1_000_000)
    assert told(before + run(0, 500, 1_000_000 + 500 * STEP)) == (0, 1, [0])


def test_a_damaged_number_near_zero_is_taken_back() -> None:
    """A garbled line that says a small number and an early clock is a line out of turn, not a restart."""
    lines = run(40_000, 600, 500_000_000)
    lines[300] = b"f,812,7\n"
    assert told(lines) == (0, 0, [0, 1])
