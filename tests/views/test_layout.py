"""Text answers keep within the page, and mean the same without colour."""

import pytest

from whorlpulse.estimators.plan import YarnPlan
from whorlpulse.estimators.twist import Window
from whorlpulse.findings.report import note
from whorlpulse.views import layout
from whorlpulse.views.twist_profile import profile


def test_paragraphs_and_bullets_keep_the_margin():
    page = layout.Page(width=50)
    text = layout.joined(layout.paragraph(page, "word " * 60), layout.bullets(page, [note("limit-turns")]), None)
    assert max(len(line) for line in text.splitlines()) <= 48
    assert all(line.startswith("  ") for line in text.splitlines() if line)


def test_bold_only_where_the_page_allows_it():
    plain, bold = (layout.headline(layout.Page(80, styled), "6.21 : 1", "beside") for styled in (False, True))
    assert "\x1b" not in plain
    assert bold.replace("\x1b[1m", "").replace("\x1b[0m", "") == plain


def test_table_columns_line_up():
    lines = layout.table(("a", "bb"), [("long", "1"), ("s", "22")], left=(0,)).splitlines()
    assert lines == ["  a      bb", "  long    1", "  s      22"]


def _yarn(tpm: list[float], step: float = 0.5) -> list[Window]:
    return [Window(i * step, (i + 1) * step, t) for i, t in enumerate(tpm)]


PLAN = YarnPlan(200.0, tolerance=0.1)


def test_a_stretch_off_plan_has_another_mark_and_a_word():
    on, under, over = profile(_yarn([200.0, 150.0, 240.0]), PLAN, layout.Page(80)).splitlines()[1:]
    assert "●" in on
    assert "○" not in on
    assert under.endswith("under")
    assert over.endswith("over")
    assert "○" in under
    assert under.index("○") < under.index("│") < under.rindex("│")
    assert over.rindex("│") < over.index("○")
    assert on.index("│") < on.index("●") < on.rindex("│")


@pytest.mark.parametrize("windows", [2, 16, 17, 333])
def test_a_long_yarn_stays_on_one_screen_and_keeps_its_turns(windows):
    tpm = [150.0 + i for i in range(windows)]
    lines = profile(_yarn(tpm), None, layout.Page(80)).splitlines()[1:]
    assert 1 <= len(lines) <= 16
    assert all(len(line) <= 80 for line in lines)
    assert lines[0].split()[0] == "0.0"
    assert float(lines[-1].split()[2]) == pytest.approx(windows * 0.5)
