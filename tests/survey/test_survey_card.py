"""The card as a page: one file without script or network, everything from outside shown as text, one sheet of paper."""

from __future__ import annotations

import re
import subprocess
from html.parser import HTMLParser

import pytest
from tests.tools import require_tool

from whorlpulse.estimators.measured import Measured
from whorlpulse.findings.survey_report import SurveyReport, WheelFacts, WhorlCard
from whorlpulse.views.survey_card import card
from whorlpulse.views.survey_words import Signed

EVIL = "<img src=x onerror=alert(1)>\"&'{{ 7 * 7 }}"


class Parts(HTMLParser):
    """The page's elements and its text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text += data


@pytest.fixture
def page(whorlpulse, bench, tmp_path):
    place = tmp_path / "card.html"
    words = ("--wheel", bench / "wheel.toml", "--draft", "3 cm", "-o", place)
    assert whorlpulse("survey", bench / "log.pulses", *words).code == 0
    return place


def hostile(names: str) -> str:
    whorl = WhorlCard(Measured(6.2, 0.01), Measured(6.2, 0.01), 40.0, (0,), name=names)
    report = SurveyReport(names, WheelFacts(name=names), 0.001, whorls=(whorl,), wheel_turns=40.0, cadence_hz=1.0)
    return card(report, Signed(names, names))


def test_markup_in_names_is_shown_as_text():
    plain, evil = Parts(hostile("ordinary")), Parts(hostile(EVIL))
    assert evil.tags == plain.tags
    assert evil.text.count(EVIL) >= 5  # title, heading, whorl, repairer, log
    assert "49" not in evil.text


def test_nothing_comes_from_elsewhere(page):
    parts = Parts(page.read_text())
    assert {tag for tag, _ in parts.tags}.isdisjoint({"script", "link", "img", "iframe", "object", "form"})
    assert not any(key.startswith("on") or key in ("src", "href", "style") for _, a in parts.tags for key in a)
    assert "url(" not in page.read_text()
    assert "@import" not in page.read_text()
    assert page.stat().st_size < 20_000


def test_every_figure_is_that_of_the_text(whorlpulse, bench, page):
    """The same rounding: each ratio with its ±, each slip and each twist of the page stands in the terminal's text."""
    text = whorlpulse("survey", bench / "log.pulses", "--wheel", bench / "wheel.toml", "--draft", "3 cm").out
    shown = " ".join(Parts(page.read_text()).text.split())
    figures = re.findall(r"[0-9.]+ ± [0-9.]+|[0-9.]+ tpi \([0-9.]+ tpm\)", text)
    assert len(figures) > 15
    for figure in figures:
        assert figure in shown.replace(" : 1 ±", " ±")


def test_an_unsigned_card_leaves_a_line_to_write_on(page):
    assert re.search(r"<dt>Measured by</dt><dd></dd>", page.read_text())


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_on_one_sheet_without_a_request(page, tmp_path, paper):
    chromium, pdfinfo = require_tool("chromium"), require_tool("pdfinfo")
    playwright = pytest.importorskip("playwright.sync_api")
    requests, printed = [], tmp_path / f"{paper}.pdf"
    with playwright.sync_playwright() as p:
        options = [
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
        ]
        browser = p.chromium.launch(
            executable_path=chromium, args=[*options, "--disable-component-update", "--disable-sync"]
        )
        shown = browser.new_page(viewport={"width": 360, "height": 800})
        shown.on("request", lambda r: requests.append(r.url))
        shown.goto(page.as_uri())
        wide = shown.evaluate("document.documentElement.scrollWidth")
        shown.pdf(path=printed, format=paper)
        browser.close()
    assert requests == [page.as_uri()]
    assert wide <= 360
    said = subprocess.run([pdfinfo, printed], capture_output=True, text=True, check=True, timeout=30).stdout
    assert re.search(r"Pages:\s+1\b", said)
