"""What comes from outside is text on the page: file names, folders, notes, boards, whorls with markup in them."""

from __future__ import annotations

import json

import pytest
from report_pages import Page, report_of

from whorlpulse.cli.exits import run
from whorlpulse.views.report_page import Look, html

EVIL = "<b>&</b></script><script>alert(1)</script><!--\"'"


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    place = tmp_path_factory.mktemp("evil") / "<i>&amp;bench"
    assert run(["simulate", "three-whorls", "-o", str(place)]) == 0
    log = (place / "log.pulses").read_bytes()
    evil = place / "<u>log&.pulses"
    named = log.replace(b"# board: simulated", f"# board: {EVIL}\n# note: {EVIL}\n# mark: 5000000 {EVIL}".encode())
    evil.write_bytes(named)
    wheel = (place / "wheel.toml").read_text().replace('name = "middle"', f"name = '''{EVIL[:-1]}'''")
    (place / "wheel.toml").write_text(wheel)
    out = place / "page.html"
    assert run(["report", str(evil), "-o", str(out)]) == 0
    return out.read_text()


def test_no_element_comes_from_outside(page):
    clean = Page.of(html(report_of("three-whorls"), Look()))
    dirty = Page.of(page)
    for tag in ("b", "script", "i", "u", "img", "iframe", "style"):
        assert [t for t, _ in dirty.elements].count(tag) == [t for t, _ in clean.elements].count(tag), tag


def test_it_is_shown_as_text(page):
    lines = "\n".join(Page.of(page).lines)
    assert "<u>log&.pulses" in lines
    assert "<i>&amp;bench" in lines
    assert f"board | {EVIL}" in lines
    assert f"note | {EVIL}" in lines
    assert f"mark | {EVIL}" in lines
    assert EVIL[:-1] in lines


def test_specifications_are_whole_json_without_a_way_out(page):
    specs = [text for text in Page.of(page).scripts if text.lstrip().startswith('{"$schema"')]
    assert len(specs) >= 4
    for text in specs:
        assert "<" not in text
        assert json.loads(text)["$schema"].startswith("https://vega.github.io/")
    assert any("\\u003c/script" in text for text in specs)  # the whorl's name is in a picture


def test_attributes_are_no_handlers(page):
    for _, attributes in Page.of(page).elements:
        assert not any(name.startswith("on") for name in attributes)
