"""A fast part of each table of docs/accuracy-of-the-rest.md, and that the page has what the scripts make."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from tests.accuracy import kept_tables
from tests.accuracy.bobbin import LENGTHS, TWISTS, length_errors, twist_errors
from tests.accuracy.bursts import BURSTS, QUIET
from tests.accuracy.by_design import BURSTING, bursting, quiet
from tests.accuracy.draws import DRAWS, ROLLERS, stretch_line
from tests.accuracy.survey import cards

ROWS = {
    "bursts": len(BURSTS) + len(QUIET),
    "by_design": 5 + len(BURSTING),
    "survey": 1,
    "draws": len(DRAWS) + len(ROLLERS),
    "bobbin": len(LENGTHS) + len(TWISTS),
}


@pytest.mark.parametrize("name", ROWS)
def test_the_page_has_each_scripts_table(name):
    page = kept_tables.PAGE.read_text(encoding="utf-8")
    rows = [line for line in kept_tables.part(name, page).splitlines() if line.startswith("|")]
    heads = [line for line in rows if set(line) <= set("|-: ")]
    assert len(rows) - 2 * len(heads) == ROWS[name]
    assert f"`python tests/accuracy/{name}.py`" in page
    assert (Path(__file__).parent / f"{name}.py").exists()


def test_a_part_is_replaced_and_nothing_else():
    begin, end = kept_tables.marks("bursts")
    page = f"before\n{begin}\nold\n{end}\nafter\n"
    assert kept_tables.put("bursts", ["new"], page) == f"before\n{begin}\n\nnew\n\n{end}\nafter\n"
    with pytest.raises(ValueError, match="end of draws"):
        kept_tables.put("draws", ["new"], page)


def test_bench_cards_hold_their_ratios():
    found = cards(range(70, 74))
    assert (found.wheels, len(found.off)) == (4, 12)
    assert np.abs(found.off).max() < 0.02  # the bar of a clean log
    assert found.held >= 10
    assert found.repeated >= 9


def test_lengths_and_twist_by_the_bobbin():
    wound = length_errors(LENGTHS["length, measured to 0.1 and 0.5 mm"], range(70, 78))
    assert np.abs(wound.off).max() < 2.5
    assert wound.held >= 6
    blind = twist_errors(TWISTS["twist, flyer not sensed, bobbin-led"], range(70, 74))
    assert np.abs(blind.off).max() < 0.6


def test_a_double_drive_without_fault_has_no_finding_and_bursts_are_found_in_it():
    calm = quiet(0.5, range(70, 72), duration_s=600.0)
    assert calm.hours == pytest.approx(1 / 3, rel=0.02)
    assert calm.false == 0
    assert calm.give_off < 0.02
    found = bursting(BURSTING["bursts, double drive, g = 0.5"], range(70, 71))
    assert (found.there, found.found, found.false) == (4, 4, 0)


def test_a_soft_stretch_is_found():
    found = re.search(r"found in (\d+) of 3 logs, ends off by ([\d.]+) cm", stretch_line(range(70, 73)))
    assert found is not None
    assert int(found[1]) == 3
    assert float(found[2]) < 30.0
