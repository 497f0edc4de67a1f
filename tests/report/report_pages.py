"""Report pages of simulated captures for the tests, and what a reader without eyes for markup finds in a page."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import lru_cache
from html.parser import HTMLParser

from whorlpulse.actions.make_report import Asked, make_pair, make_report
from whorlpulse.actions.recording import read_recording
from whorlpulse.cli.inputs import Given, plan_notes, rig_of
from whorlpulse.cli.plan_file import read_plan
from whorlpulse.cli.wheel_file import read_wheel
from whorlpulse.findings.full_report import FullReport, PairReport
from whorlpulse.findings.report import note
from whorlpulse.simulate import Capture, Scenario, scenario, simulate

VOID = {"meta", "link", "br", "img", "hr", "input"}


@lru_cache(maxsize=32)
def captured(name: str, seed: int = 1, seconds: float = 0.0) -> Capture:
    """Return a capture of a scenario; seconds: another length, 0 for the scenario's own."""
    case: Scenario = scenario(name)
    return simulate(case.lasting(seconds) if seconds else case, seed)


def asked(
    capture: Capture,
    name: str = "test.pulses",
    plan: str | None = None,
    total: str | None = None,
    *,
    wheel: bool = True,
) -> Asked:
    """Return what a report is asked of; plan: text of a plan file, else the capture's own."""
    recording = read_recording(lambda: [capture.log], name)
    rig, notes = rig_of(recording, Given(total=total), needs_length=False)
    if wheel and capture.wheel_toml is not None:
        rig = read_wheel(capture.wheel_toml.encode(), "wheel.toml").onto(rig)
    text = plan if plan is not None else capture.plan_toml
    wanted = read_plan(text.encode(), "plan.toml") if text else None
    return Asked(
        recording,
        rig,
        wanted.yarn if wanted is not None else None,
        notes=notes,
        plan_notes=plan_notes(wanted) if wanted is not None else (),
        files=(note("wheel-beside", name="wheel.toml"),) if wheel else (),
        place="bench",
    )


@lru_cache(maxsize=32)
def report_of(name: str, seed: int = 1, seconds: float = 0.0) -> FullReport:
    """Return the full report of a scenario's capture."""
    return make_report(asked(captured(name, seed, seconds)))


def with_log(capture: Capture, change: Callable[[bytes], bytes]) -> Capture:
    """Return the capture with another log."""
    return replace(capture, log=change(capture.log))


@lru_cache(maxsize=4)
def pair_of(first: str, second: str) -> PairReport:
    """Return the report of two scenarios' captures."""
    return make_pair(asked(captured(first), f"{first}.pulses"), asked(captured(second), f"{second}.pulses"))


@dataclass
class Figure:
    """A figure on a page: what is shown, and its origin in the JSON."""

    shown: str
    part: str
    key: str
    form: str
    factor: float


@dataclass
class Page(HTMLParser):
    """What stands in a page: elements by name, figures with their origin, text by block, outside references."""

    elements: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    figures: list[Figure] = field(default_factory=list)
    scripts: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self._open: list[str] = []
        self._figure: dict[str, str] | None = None
        self._text = ""

    @classmethod
    def of(cls, html: str) -> Page:
        page = cls()
        page.feed(html)
        page.close()
        page._end_line()
        return page

    def handle_starttag(self, tag, attrs):
        attributes = {k: v or "" for k, v in attrs}
        self.elements.append((tag, attributes))
        if tag not in VOID:
            self._open.append(tag)
        if tag in ("p", "h1", "h2", "h3", "li", "tr", "figcaption", "caption", "summary", "section", "figure", "div"):
            self._end_line()
        if tag in ("td", "th") and self._text.strip():
            self._text += " | "
        if tag == "span" and attributes.get("class") == "figure":
            self._figure, self._shown = attributes, ""

    def handle_endtag(self, tag):
        while self._open and self._open[-1] != tag:
            self._open.pop()
        if self._open:
            self._open.pop()
        if tag == "span" and self._figure is not None:
            a = self._figure
            origin = (a["data-part"], a["data-key"], a["data-form"], float(a["data-factor"]))
            self.figures.append(Figure(self._shown, *origin))
            self._figure = None

    def handle_data(self, data):
        if "script" in self._open:
            self.scripts.append(data)
        elif "style" not in self._open and "svg" not in self._open:
            self._text += data
            if self._figure is not None:
                self._shown += data

    def _end_line(self) -> None:
        if self._text.strip():
            self.lines.append(" ".join(self._text.split()))
        self._text = ""

    def outline(self) -> str:
        """Return the page as lines of text, each number masked, sign and all: what it says, whatever it measures."""
        return "\n".join(re.sub(r"(?<![\w-])[-+]?\d+(?:\.\d+)?|\d+(?:\.\d+)?", "#", line) for line in self.lines) + "\n"
