"""`report` as a command: what it writes where, how large, and what it says when it can't."""

from __future__ import annotations

import re

import pytest
from report_pages import Page

from whorlpulse.cli.exits import run
from whorlpulse.views.charts.all import NAMES


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    place = tmp_path_factory.mktemp("bench")
    for name in ("skein-soft", "planned-bursts"):
        assert run(["simulate", name, "-o", str(place / name)]) == 0
    return place


def typed(capsys, *words):
    capsys.readouterr()
    code = run([str(w) for w in words])
    out, err = capsys.readouterr()
    return code, out, err


def test_a_page_with_scripts_stays_below_six_megabytes_and_reaches_for_nothing(bench, capsys):
    out = bench / "page.html"
    code, said, _ = typed(capsys, "report", bench / "skein-soft/log.pulses", "-o", out)
    assert code == 0
    assert "page.html" in said
    text = out.read_text()
    assert 500_000 < len(text.encode()) <= 6_000_000
    assert _reaches_out(text) == []


def test_a_page_without_scripts_stays_below_half_a_megabyte(bench, capsys):
    out = bench / "still.html"
    assert typed(capsys, "report", bench / "skein-soft/log.pulses", "-o", out, "--no-script")[0] == 0
    text = out.read_text()
    assert len(text.encode()) <= 500_000
    assert "<script" not in text
    assert text.count("<svg ") == 5  # twist, ratio, loss, cadence, turn
    assert _reaches_out(text) == []


def _reaches_out(text: str) -> list[str]:
    """References that a browser would follow by itself."""
    page = Page.of(text)
    found = [a[k] for _, a in page.elements for k in ("src", "srcset", "data", "action") if k in a]
    found += [a["href"] for _, a in page.elements if a.get("href") and not a["href"].startswith("#")]
    styles = "".join(re.findall(r"<style>(.*?)</style>", text, re.DOTALL))
    return found + re.findall(r"@import|url\((?!#)[^)]*\)", styles)


def test_files_beside_the_log_are_taken_and_said(bench, capsys):
    out = bench / "beside.html"
    assert typed(capsys, "report", bench / "skein-soft/log.pulses", "-o", out, "--no-script")[0] == 0
    lines = " ".join(Page.of(out.read_text()).lines)
    assert "Wheel file: wheel.toml, found beside the log." in lines
    assert "Plan file: plan.toml, found beside the log." in lines
    alone = bench / "alone.pulses"
    alone.write_bytes((bench / "skein-soft/log.pulses").read_bytes())
    assert typed(capsys, "report", alone, "-o", bench / "alone.html", "--no-script")[0] == 0
    assert "beside the log" not in " ".join(Page.of((bench / "alone.html").read_text()).lines)


def test_simulated_data_says_so(bench, capsys):
    out = bench / "simulated.html"
    assert typed(capsys, "report", bench / "skein-soft/log.pulses", "-o", out, "--no-script")[0] == 0
    assert any(line.startswith("Simulated data:") for line in Page.of(out.read_text()).lines[:6])
    log = (bench / "skein-soft/log.pulses").read_bytes()
    noted = bench / "noted.pulses"  # the board named otherwise, but its note says so
    noted.write_bytes(log.replace(b"# board: simulated", b"# board: bench 2"))
    assert typed(capsys, "report", noted, "-o", bench / "noted.html", "--no-script")[0] == 0
    assert any(line.startswith("Simulated data:") for line in Page.of((bench / "noted.html").read_text()).lines[:6])
    real = bench / "other-board.pulses"
    real.write_bytes(noted.read_bytes().replace(b"# note: simulated by", b"# note: spun by"))
    assert typed(capsys, "report", real, "-o", bench / "other.html", "--no-script")[0] == 0
    assert not any(line.startswith("Simulated data:") for line in Page.of((bench / "other.html").read_text()).lines)


def test_an_older_page_is_left_alone_unless_told(bench, capsys):
    out = bench / "kept.html"
    out.write_text("mine")
    code, _, err = typed(capsys, "report", bench / "skein-soft/log.pulses", "-o", out, "--no-script")
    assert code == 2
    assert "exists already" in err
    assert out.read_text() == "mine"
    assert typed(capsys, "report", bench / "skein-soft/log.pulses", "-o", out, "--no-script", "--replace")[0] == 0
    assert out.read_text().startswith("<!DOCTYPE html>")


@pytest.mark.parametrize("name", NAMES)
def test_one_chart_as_a_file_of_its_own(bench, capsys, name):
    out = bench / f"{name}.svg"
    code, _, err = typed(capsys, "report", bench / "planned-bursts/log.pulses", "-o", out, "--chart", name)
    if code == 0:
        assert out.read_text().startswith("<svg ")
    else:
        assert name in ("rhythm", "twist")  # a log without rhythm and without yarn
        assert "can't be drawn" in err
        assert not out.exists()


def test_a_chart_as_png(bench, capsys):
    out = bench / "turn.png"
    assert typed(capsys, "report", bench / "planned-bursts/log.pulses", "-o", out, "--chart", "turn")[0] == 0
    assert out.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "say where to write"),
        (["-o", "x.txt"], ".html or .pdf"),
        (["-o", "x.html", "--chart", "ratio"], ".svg or .png"),
        (["-o", "x.svg"], "--chart NAME"),
        (["-o", "x.svg", "--chart", "pie"], "ratio, loss, rhythm, angle, cadence, turn, twist"),
        (["-o", "x.html", "--reader", "king"], "spinner, repairer or teacher"),
        (["-o", "x.pdf", "--paper", "A5"], "A4 or Letter"),
        (["-o", "x.html", "--treadles", "three"], "single or double"),
        (["-o", "nowhere/x.html"], "cannot be written"),
        (["-o", "x.html", "--plan", "none.toml"], "none.toml is not there"),
    ],
)
def test_misuse_is_one_line(bench, capsys, monkeypatch, words, said):
    monkeypatch.chdir(bench)
    code, out, err = typed(capsys, "report", "skein-soft/log.pulses", *words)
    assert code == 2
    assert out == ""
    assert err.count("\n") == 1
    assert said in err


def test_treadles_told_are_taken(bench, capsys):
    out = bench / "feet.html"
    log = bench / "planned-bursts/log.pulses"
    assert typed(capsys, "report", log, "-o", out, "--no-script", "--treadles", "double")[0] == 0
    said = " ".join(Page.of(out.read_text()).lines)
    assert "was not told" not in said
    assert "Though two treadles were told" in said  # the simulated foot pushes once a turn


def test_three_logs_are_too_many(bench, capsys):
    log = bench / "skein-soft/log.pulses"
    code, _, err = typed(capsys, "report", log, log, log, "-o", bench / "three.html")
    assert code == 2
    assert "one log, or of two" in err


def test_two_logs_make_one_page(bench, capsys):
    out = bench / "two.html"
    logs = bench / "skein-soft/log.pulses", bench / "planned-bursts/log.pulses"
    assert typed(capsys, "report", *logs, "-o", out, "--no-script")[0] == 0
    page = Page.of(out.read_text())
    ids = [a["id"] for _, a in page.elements if "id" in a]
    assert len(ids) == len(set(ids))
    assert {"pair-part-change", "pair-part-both", "a-part-slip", "b-part-slip"} <= set(ids)
    assert "before: skein-soft/log.pulses" in page.lines
    assert len(out.read_bytes()) <= 500_000


def test_a_log_without_answers_makes_a_page_that_says_why_and_code_1(bench, capsys):
    short = bench / "short.pulses"
    short.write_bytes(b"".join((bench / "planned-bursts/log.pulses").read_bytes().splitlines(True)[:40]))
    out = bench / "short.html"
    code, _, err = typed(capsys, "report", short, "-o", out, "--no-script")
    assert code == 1
    assert "short.pulses: too few whole wheel turns" in err
    assert err.count("\n") == 1
    assert any("too few whole wheel turns" in line for line in Page.of(out.read_text()).lines)


def test_without_a_browser_a_pdf_is_refused_in_one_line(bench, capsys, monkeypatch):
    monkeypatch.setenv("WHORLPULSE_BROWSER", "no-such-program")
    code, _, err = typed(capsys, "report", bench / "skein-soft/log.pulses", "-o", bench / "x.pdf")
    assert code == 2
    assert "installed Chromium-like browser" in err
    assert err.count("\n") == 1
    assert not (bench / "x.pdf").exists()
    monkeypatch.setenv("WHORLPULSE_BROWSER", "false")  # a program that makes no PDF
    code, _, err = typed(capsys, "report", bench / "skein-soft/log.pulses", "-o", bench / "x.pdf")
    assert code == 2
    assert "made no PDF" in err
