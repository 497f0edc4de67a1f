"""On paper: A4 and Letter, no picture cut by the end of a page, no heading left alone at its foot."""

from __future__ import annotations

import re
import subprocess

import pytest
from report_pages import pair_of, report_of

from tools import missing, require_tool
from whorlpulse.actions.print_page import browser, print_page
from whorlpulse.findings.catalogue.page import CHARTS, TITLES
from whorlpulse.views.charts.all import NAMES, chart
from whorlpulse.views.charts.chart import Chart
from whorlpulse.views.report_page import Look, html, pair_html

#: ISO 216 and ANSI: 210 x 297 mm, 8.5 x 11 in, in points of 1/72 inch.
SIZES = {"A4": (595.3, 841.9), "Letter": (612.0, 792.0)}
CASES = ("slipping-band", "three-whorls", "skein-soft")


def printed(text: str, place) -> tuple[list[str], tuple[float, float]]:
    """Return the text of each page and the paper's size."""
    if browser() is None:
        missing("no Chromium-like browser is installed")
    file = place / "page.pdf"
    file.write_bytes(print_page(text))
    info = subprocess.run([require_tool("pdfinfo"), file], capture_output=True, text=True, check=True).stdout
    width, height = re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", info).groups()
    words = subprocess.run(
        [require_tool("pdftotext"), "-layout", file, "-"], capture_output=True, text=True, check=True
    )
    pages = [" ".join(page.split()) for page in words.stdout.split("\f")][:-1]
    return pages, (float(width), float(height))


@pytest.mark.parametrize("paper", SIZES)
@pytest.mark.parametrize("case", CASES)
def test_no_chart_is_cut(case, paper, tmp_path):
    """Title, the picture's axis title and the first words below it stand on one page of the right size."""
    report = report_of(case)
    pages, size = printed(html(report, Look("repairer", script=False, paper=paper)), tmp_path)
    assert size == pytest.approx(SIZES[paper], abs=1.0)
    drawn = [c for name in NAMES if isinstance(c := chart(name, report), Chart)]
    assert len(drawn) >= 4
    for c in drawn:
        (number,) = [i for i, page in enumerate(pages) if CHARTS[c.name] in page]
        below = " ".join(c.says.split()[:4])
        assert below in pages[number], c.name
        titles = {t for t in re.findall(r'"title": "([^"]+)"', repr(c.spec).replace("'", '"')) if len(t) > 3}
        seen = [t for t in titles if t in pages[number]]
        assert seen, (c.name, titles)


@pytest.mark.parametrize("paper", SIZES)
def test_no_heading_stands_alone_at_the_foot(paper, tmp_path):
    pages, _ = printed(html(report_of("slipping-band"), Look(script=False, paper=paper)), tmp_path)
    for page in pages:
        assert not any(page.endswith(title) for title in (*TITLES.values(), *CHARTS.values()))


def test_both_logs_pictures_are_whole(tmp_path):
    pages, _ = printed(pair_html(pair_of("slipping-band", "skein-on-plan"), Look(script=False, paper="A4")), tmp_path)
    for name in ("loss", "cadence", "turn", "ratio"):
        heads = [(i, n) for i, page in enumerate(pages) for n in re.findall(rf"{CHARTS[name]} · (before|after)", page)]
        assert [n for _, n in heads] == ["before", "after"], name


def test_the_whole_page_is_there(tmp_path):
    pages, _ = printed(html(report_of("slipping-band"), Look(script=False, paper="A4")), tmp_path)
    whole = " ".join(pages)
    for key in ("look", "twist", "whorls", "ratio", "slip", "cadence", "health", "budget", "method", "cautions"):
        assert TITLES[key] in whole
    assert len(pages) <= 9
