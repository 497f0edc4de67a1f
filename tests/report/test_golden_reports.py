"""Each kept report says what it said: words and structure, numbers masked (others' tests hold those to the truth).

The kept texts were read, and their pages looked at, before they were kept; `regenerate_golden.py` writes them anew.
"""

import pytest
from report_golden import CASES, FOLDER, outline


@pytest.mark.parametrize("case", CASES)
def test_a_report_says_what_it_said(case):
    kept = (FOLDER / f"{case}.txt").read_text(encoding="utf-8")
    assert outline(case) == kept, "look at the page; if it is right: python tests/report/regenerate_golden.py"


def test_no_kept_report_is_left_over():
    assert {p.stem for p in FOLDER.glob("*.txt")} == set(CASES)


#: Words that a reader of each verdict must find, from the brief of the page rather than from its code.
VERDICTS = {
    "on-plan": "on plan",
    "on-plan-in-part": "on plan as a whole, but not everywhere",
    "under": "under plan",
    "over": "over plan",
    "undecided": "undecided",
    "bursts": "slips in bursts",
    "creep": "creeps",
    "joint": "joint",
    "too-short": "too few whole wheel turns",
    "no-flyer": "no flyer pulses",
    "empty": "the log is empty",
    "two-better": "better by",
}


@pytest.mark.parametrize("case", VERDICTS)
def test_the_verdict_stands_on_the_page_before_any_section(case):
    before = (FOLDER / f"{case}.txt").read_text(encoding="utf-8").split("The yarn\n")[0].split("The band\n")[0]
    assert VERDICTS[case] in before


def test_all_parts_are_on_every_askers_page():
    """The asker picks the order, not the content."""
    from report_pages import Page, report_of

    from whorlpulse.views.report_page import Look, html

    pages = [Page.of(html(report_of("skein-soft"), Look(asker, script=False))) for asker in _ASKERS]
    heads = [[a["id"] for tag, a in page.elements if tag == "section"] for page in pages]
    assert len({tuple(h) for h in heads}) == 3
    assert len({frozenset(h) for h in heads}) == 1
    assert [h[1] for h in heads] == ["a-part-twist", "a-part-slip", "a-part-cadence"]


_ASKERS = ("spinner", "repairer", "teacher")
