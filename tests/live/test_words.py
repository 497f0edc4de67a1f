"""What the live view says, in the terminal and at its end: the same texts as on the page, and that they fit."""

from __future__ import annotations

import re
import string
import sys
from dataclasses import replace
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console

sys.path.insert(0, str(Path(__file__).resolve().parent))

from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.plan import YarnPlan
from whorlpulse.findings.catalogue.live import LIVE
from whorlpulse.findings.live import LiveBurst, PlanNow, StripPoint, Totals, WheelNow
from whorlpulse.findings.report import note
from whorlpulse.views.live_document import WheelDocument, room_text
from whorlpulse.views.live_end import closing_lines
from whorlpulse.views.live_json import figure, quick_parts, window_parts
from whorlpulse.views.live_terminal import live_screen

TOTALS = Totals(
    to_s=93.0,
    ratio=Measured(6.2104, 0.012),
    cadence_hz=Measured(1.02, 0.012),
    twist_tpm=Measured(205.0, 2.0),
    length_m=Measured(3.2, 0.02),
    slip=Measured(0.012, 0.0012),
    reference_ratio=Measured(6.28, 0.01),
    wheel_turns=86.04,
    flyer_turns=534.2,
    verdict="on-plan",
    bursts=(),
    notes=(),
)
NOW = WheelNow(
    id="1",
    name="by the [bold]window[/bold]",
    state="turning",
    simulated=True,
    pulses={"w": 86, "f": 534, "y": 30},
    lost=2,
    wheel_per_min=61.234,
    flyer_per_min=381.0,
    ratio=Measured(6.2104, 0.012),
    twist_tpm=Measured(170.0, 2.0),
    length_m=3.2,
    loss=Measured(0.012, 0.0012),
    pace_per_min=60.0,
    pace="with it",
    plan=PlanNow(YarnPlan(204.7), "under", 170.0, 0.0365, 0.0303),
    strip=(StripPoint(0.0, 60.0, 6.2, None), StripPoint(2.0, 62.0, 6.21, 170.0)),
    bursts=(LiveBurst(93.2, Measured(0.7, 0.01)),),
    marks=((80.1, "mended [red]band"),),
    totals=TOTALS,
)


#: A wheel that has something to say in every place, and more of it than fits into a line.
FULL = replace(
    NOW,
    name="the long and winding name of a wheel that stands by the window",
    state="lost",
    says=note("lost", why="the port /dev/ttyUSB0 has gone; is its plug still in, and does another program hold it"),
    bursts=(LiveBurst(93.2, Measured(0.7, 0.01)), LiveBurst(95.1, Measured(0.6, 0.01))),
)
SENTENCE = "not connected (the port /dev/ttyUSB0 has gone; is its plug still in, and does another program hold it)"


def drawn(wheels: list[WheelNow], width: int, height: int = 100) -> str:
    out = StringIO()
    console = Console(file=out, width=width, height=height, force_terminal=True, color_system=None)
    console.print(live_screen(wheels, "1", None, None, width))
    return out.getvalue()


def plain(text: str) -> str:
    """Text without the terminal's own control sequences."""
    return re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", text)


def test_a_figure_is_cut_where_its_uncertainty_begins_and_an_unknown_says_why() -> None:
    """95 %: 1.96 standard uncertainties; the half width keeps one digit, or two after a 1 (the rounding rule)."""
    assert figure(Measured(6.2104, 0.012), ": 1") == {
        "text": "6.21",
        "pm": "0.02",
        "unit": ": 1",
        "value": 6.2104,
        "why": None,
    }
    unknown = figure(None, "tpi", "why-no-length")
    assert (unknown["text"], unknown["value"]) == (None, None)
    assert "roller" in unknown["why"]


def test_plan_and_bursts_are_said_in_words() -> None:
    plan = window_parts(NOW)["plan"]
    assert plan["says"] == "Softer than planned: draw 3.03 cm per treadle instead of 3.65."
    assert (plan["twist"], plan["from"], plan["to"]) == ("5.20 tpi (205 tpm)", "4.68", "5.72")
    assert plan["place"] == pytest.approx((170.0 - 0.9 * 204.7) / (0.2 * 204.7), abs=1e-4)
    assert window_parts(NOW)["bursts"] == [{"t_s": 93.2, "text": "0.700 flyer turns lost at 1:33"}]
    assert quick_parts(NOW)["pulses_text"] == "650 pulses, 2 lost"


@pytest.mark.parametrize("width", [60, 80, 120])
def test_the_terminal_shows_the_pages_texts_within_its_width(width: int) -> None:
    shown = plain(drawn([NOW], width))
    assert max(len(line) for line in shown.splitlines()) <= width
    for text in ("61.2", "6.21", "4.32", "by the [bold]window", "simulated", "650 pulses", "1:33"):
        assert text in shown, text
    if width >= 80:
        assert "Softer than planned: draw 3.03 cm per treadle instead of 3.65." in shown
        assert "mended [red]band" in shown


def test_a_class_of_wheels_is_a_table_and_the_chosen_one() -> None:
    wheels = [replace(NOW, id=str(i + 1), name=f"wheel {i + 1}") for i in range(12)]
    shown = plain(drawn(wheels, 100))
    assert all(f"wheel {i + 1}" in shown for i in range(12))
    assert len(shown.splitlines()) < 40


@pytest.mark.parametrize("width", [60, 80])
def test_what_is_longer_than_a_line_goes_on_in_the_next(width: int) -> None:
    shown = plain(drawn([FULL], width))
    assert max(len(line) for line in shown.splitlines()) <= width
    running = " ".join(shown.replace("│", " ").split())
    assert SENTENCE in running
    assert "…, simulated · lost" in running, "the name is cut and not how things stand"


@pytest.mark.parametrize(("width", "height"), [(80, 24), (60, 24), (80, 12)])
@pytest.mark.parametrize("wheels", [1, 2, 4, 12])
def test_a_low_terminal_keeps_the_keys_line_in_sight(width: int, height: int, wheels: int) -> None:
    shown = plain(drawn([replace(FULL, id=str(i + 1)) for i in range(wheels)], width, height)).splitlines()
    assert len(shown) <= height
    assert max(len(line) for line in shown) <= width
    assert shown[-1].rstrip().endswith("l length  m mark  p pause  q end")


@pytest.mark.parametrize("width", [60, 80])
def test_two_wheels_that_do_not_fit_one_below_the_other_are_rows_with_all_their_figures(width: int) -> None:
    wheels = [FULL, replace(FULL, id="2", wheel_per_min=47.25)]
    rows = plain(drawn(wheels, width, 24)).splitlines()[1:3]
    for row, cadence in zip(rows, ("61.2", "47.2"), strict=True):
        assert row.split()[-5:] == ["lost", cadence, "6.21", "4.32", "2"]
    assert plain(drawn(wheels, width, 60)).count("6.21 ± 0.02 : 1") == 2, "where there is room each has its sheet"


@pytest.mark.parametrize("width", [60, 80])
def test_the_last_lines_are_filled_to_the_terminals_width(width: int) -> None:
    """A log without a length says in a sentence of 140 letters what is missing; a path is left in one piece."""
    reasons = (note("no-length"), note("few-turns", turns=3, needed=5, enough_s=9))
    path = "/home/a spinner/" + "a-long-folder/" * 8 + "out.pulses"
    now = replace(NOW, state="ended", says=note("ended"), totals=replace(TOTALS, notes=reasons))
    lines = closing_lines(now, path, width)
    assert lines[-1] == f"  The log is {path}."
    assert max(len(line) for line in lines[:-1]) <= width
    assert sum(len(line) > width - 20 for line in lines) >= 2, "lines are filled, not broken early"
    assert " ".join(" ".join(lines).split()).count("--total '23.4 m'") == 1
    stopped = closing_lines(replace(now, says=note("stopped", why="the disk is full: " + "no room " * 20)), None, width)
    assert len(stopped) > 1
    assert max(len(line) for line in stopped) <= width


def test_the_end_says_the_totals_or_why_there_are_none() -> None:
    lines = "\n".join(closing_lines(replace(NOW, state="ended", says=note("ended")), "out.pulses"))
    for text in ("ratio 6.21 ± 0.02 : 1", "cadence 61.2 ± 1.4", "slip 1.2 ± 0.2 %", "The log is out.pulses."):
        assert text in lines, text
    nothing = closing_lines(WheelNow("1", "wheel 1", "ended"), None)
    assert nothing == ["wheel 1: nothing came."]


def test_only_what_is_new_is_written_again() -> None:
    document = WheelDocument("1")
    assert document.take(NOW, 1)
    assert not document.take(NOW, 2)
    assert document.since(1) is None
    assert document.take(replace(NOW, flyer_per_min=382.0), 3)
    changed = document.since(1)
    assert changed is not None
    assert changed.startswith('{"id":"1","flyer":{')
    assert "ratio" not in changed
    assert room_text([document], 3, ended=True) == '{"schema":1,"ended":true,"wheels":[]}'


def test_every_sentence_of_the_catalogue_is_used() -> None:
    source = Path(__file__).resolve().parents[2] / "logger" / "whorlpulse"
    files = [*source.glob("actions/live*.py"), *source.glob("views/live_*.py"), *source.glob("cli/live*.py")]
    code = "".join(f.read_text() for f in files)
    built = ("why-", "head-", "plan-", "end-")
    unused = [k for k in LIVE if f'"{k}"' not in code and not k.startswith(built)]
    assert unused == []
    for sentence in LIVE.values():
        assert [name for _, name, _, _ in string.Formatter().parse(sentence) if name == ""] == []
