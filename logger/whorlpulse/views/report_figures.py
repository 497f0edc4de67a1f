"""Figures of the report page: each is taken from a command's JSON object and says from where, so that both agree.

A figure on the page carries the command (part), the key's path in that command's object, the form in which it is
shown, and a factor for another unit. Whoever has the JSON can check the page.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any, Literal

from whorlpulse.findings.catalogue.page import SAYS
from whorlpulse.views import cadence, check, plan, ratio, slip, twist
from whorlpulse.views.figures import cut, pair, plain

if TYPE_CHECKING:
    from whorlpulse.findings.full_report import FullReport

#: both: `6.21 ± 0.01`; value: that without its ±; plain: three digits; whole; tenth and hundredth: that many decimals.
Form = Literal["both", "value", "plain", "whole", "tenth", "hundredth"]
_DECIMALS = {"whole": 0, "tenth": 1, "hundredth": 2}
Objects = Mapping[str, Mapping[str, Any]]


@dataclass(frozen=True)
class Figure:
    """A figure as text, and where it stands in the JSON. after: its unit, shown behind it."""

    text: str
    part: str
    key: str
    form: Form
    factor: float = 1.0
    after: str = ""

    def __html__(self) -> str:
        """Return it for a page, its origin in data attributes."""
        origin = {"part": self.part, "key": self.key, "form": self.form, "factor": f"{self.factor:.10g}"}
        data = " ".join(f'data-{name}="{escape(value)}"' for name, value in origin.items())
        return f'<span class="figure" {data}>{escape(self.text)}</span>{escape(self.after)}'

    def __str__(self) -> str:
        """Return it as plain text."""
        return f"{self.text}{self.after}"


def objects_of(report: FullReport) -> Objects:
    """Return the JSON objects of all parts, by the command's name; no `plan` without a plan."""
    found = {
        "ratio": ratio.json_object(report.ratio),
        "slip": slip.json_object(report.slip),
        "cadence": cadence.json_object(report.cadence),
        "twist": twist.json_object(report.twist),
        "check": check.json_object(report.health),
    }
    if report.plan is not None:
        found["plan"] = plan.json_object(report.plan)
    return found


def at(objects: Objects, part: str, key: str) -> Any:
    """Return the value at a path like `runs.0.ratio` of a part's object."""
    value: Any = objects[part]
    for step in key.split("."):
        value = value[int(step)] if isinstance(value, list | tuple) else value[step]
    return value


def shown(value: Any, form: Form, factor: float = 1.0) -> str:
    """Return a JSON value as the page shows it."""
    if value is None:
        return SAYS["not-known"]
    if form in ("both", "value"):
        half = 0.5 * (value["high"] - value["low"]) * factor
        first, second = pair(value["value"] * factor, half)
        return f"{first} ± {second}" if form == "both" and second else first
    if form == "plain":
        return plain(value * factor)
    return cut(value * factor, _DECIMALS[form])


def figure(objects: Objects, part: str, key: str, form: Form = "both", factor: float = 1.0, after: str = "") -> Figure:
    """Return the figure at that path, in that form."""
    value = at(objects, part, key)
    return Figure(shown(value, form, factor), part, key, form, factor, after if value is not None else "")
