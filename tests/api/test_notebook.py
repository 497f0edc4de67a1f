"""How answers show themselves in notebooks: whole HTML, everything said, nothing from outside taken for markup."""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path

import pytest

import whorlpulse
from whorlpulse.views.notebook import framed, piece

SAMPLES = Path(__file__).resolve().parents[2] / "sample-captures"
_VOID = {"br", "hr", "img", "meta", "input"}


class Seen(HTMLParser):
    """What a browser would see: its text, and whether every element is closed in its order."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.text = ""
        self.frame = ""
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag not in _VOID:
            self.open.append(tag)
        if tag == "iframe":
            self.frame = dict(attrs)["srcdoc"] or ""
            assert dict(attrs)["sandbox"] == ""

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.mark.parametrize("question", ["ratio", "twist", "slip", "cadence", "check"])
@pytest.mark.parametrize("sample", ["skein-gone-soft", "every-line-fault", "board-restarted"])
def test_a_notebook_shows_all_that_the_command_says(question, sample):
    answer = getattr(whorlpulse, question)(SAMPLES / sample / "log.pulses")
    seen = Seen(answer._repr_html_())
    assert seen.open == []
    assert seen.tags[0] == "section"

    def letters(text: str) -> str:
        return "".join(c for c in text if c.isalnum())  # spaces, margins and marks are the browser's here

    # the pictures of a wider page have more dots, which are no letters
    assert letters(seen.text) == letters(str(answer)) + letters("log.pulses, simulated")


def test_names_from_outside_are_text(tmp_path):
    wheel = tmp_path / "wheel.toml"
    wheel.write_text('[[whorl]]\nname = "<b>&amp;</b>"\nratio = 8.43\nratio_u = 0.3\n')
    answer = whorlpulse.ratio(whorlpulse.read_log(SAMPLES / "first-skein" / "log.pulses", wheel=wheel))
    seen = Seen(answer._repr_html_())
    assert "<b>&amp;</b>" in seen.text
    assert "b" not in seen.tags
    assert '"><script>' not in piece("x", '"><script>alert(1)</script>')
    assert Seen(framed('"><script>alert(1)</script>')).tags == ["iframe"]


def test_the_report_shows_its_page_in_a_frame():
    full = whorlpulse.report(SAMPLES / "skein-gone-soft" / "log.pulses")
    seen = Seen(full._repr_html_())
    assert seen.tags == ["iframe"]
    assert seen.frame == full.page(script=False)
    assert seen.frame.startswith("<!DOCTYPE html>")
    assert "<script" not in seen.frame
    assert "Simulated data" in seen.frame


def test_every_form_of_text_becomes_its_element():
    text = "\n\n".join(
        [
            "  6.21 : 1  ± 0.01   flyer turns per wheel turn",
            "  A paragraph that goes on\n  on its second line.",
            "  run   ratio\n    1    6.21",
            "  · One note\n    goes on.\n  · Another <note>.",
            "  Off plan:\n    4.0 to 5.4 m: under",
        ]
    )
    html = piece(text, "log.pulses")
    assert "A paragraph that goes on on its second line.</p>" in html
    assert "<li>One note goes on.</li><li>Another &lt;note&gt;.</li>" in html
    assert ">  run   ratio\n    1    6.21</pre>" in html
    assert ">  Off plan:\n    4.0 to 5.4 m: under</pre>" in html
    assert "6.21 : 1  ± 0.01 <span" in html
