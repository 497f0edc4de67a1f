"""The report as one self-contained HTML page: template, look, pictures, and the scripts that make them move.

Everything that comes from outside (names of files, whorls and boards, notes) is text: the template escapes it.
Without scripts the page shows the same pictures; with them, the same descriptions are drawn again so that they move.
"""

from __future__ import annotations

import json
import re
from base64 import b64encode
from dataclasses import dataclass, replace
from hashlib import sha256
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final, Literal

from whorlpulse.findings.catalogue.page import FOR, SAYS, SHOWS, TITLES
from whorlpulse.views.charts.chart import Chart
from whorlpulse.views.charts.draw import Ready, scripts, svg
from whorlpulse.views.report_answer import Asker, look, tiles
from whorlpulse.views.report_figures import objects_of
from whorlpulse.views.report_pair import both_section, change_section
from whorlpulse.views.report_sections import sections
from whorlpulse.views.report_words import says

if TYPE_CHECKING:
    from collections.abc import Sequence

    from markupsafe import Markup

    from whorlpulse.findings.full_report import FullReport, PairReport
    from whorlpulse.views.report_parts import Section, Tile

Paper = Literal["A4", "Letter"]
#: Width of the page's column in the pictures' own points.
_COLUMN: Final = 760
_SIZE: Final = re.compile(r'<svg [^>]*?width="([0-9.]+)" height="([0-9.]+)"')


@dataclass(frozen=True)
class Look:
    """How a page is to be. paper: for a browser that prints without asking; None leaves it to the reader."""

    asker: Asker = "spinner"
    script: bool = True
    paper: Paper | None = None


@dataclass(frozen=True)
class _Log:
    """One log's part of the page. key: makes ids its own; title: None where the page is of this log alone."""

    key: str
    title: str | None
    tiles: tuple[Tile, ...]
    look: Section
    sections: Sequence[Section]


def html(report: FullReport, look_of: Look, ready: Ready | None = None) -> str:
    """Return the page of one log; ready: what was made ready for it."""
    log = _Log("a", None, *_parts(report, look_of))
    head = {"title": says_title("page", capture=report.capture), "place": report.about.place, "capture": report.capture}
    head["started"] = says("recorded", started=report.about.started) if report.about.started else ""
    return _rendered(head, [log], (), look_of, ready, simulated=report.about.simulated)


def pair_html(pair: PairReport, look_of: Look, ready: Ready | None = None) -> str:
    """Return the page of two logs and of what changed between them; both have the same scales."""
    first, second = pair.first, pair.second
    titles = says("is-first", name=_placed(first)), says("is-second", name=_placed(second))
    logs = []
    for key, title, report in zip("ab", titles, (first, second), strict=True):
        shown, looked, parts = _parts(report, look_of)
        logs.append(_Log(key, title, shown, looked, [replace(part, charts=()) for part in parts]))
    title = says_title("pair", first=_placed(first), second=_placed(second))
    head = {"title": title, "place": "", "capture": f"{_placed(first)} → {_placed(second)}", "started": ""}
    simulated = first.about.simulated or second.about.simulated
    changes = (change_section(pair.change), both_section(pair, look_of.asker))
    return _rendered(head, logs, changes, look_of, ready, simulated=simulated, names=titles)


def _placed(report: FullReport) -> str:
    """Return the log's name with its folder, since logs of two folders may well have one name."""
    return f"{report.about.place}/{report.capture}" if report.about.place else report.capture


def says_title(key: str, **names: str) -> str:
    """Return the page's title."""
    return TITLES[key].format(**names)


def _parts(report: FullReport, look_of: Look) -> tuple[tuple[Tile, ...], Section, list[Section]]:
    objects = objects_of(report)
    return (
        tiles(report, objects, look_of.asker),
        look(report),
        sections(report, objects, look_of.asker),
    )


def _rendered(
    head: dict[str, Any],
    logs: Sequence[_Log],
    changes: Sequence[Section],
    look_of: Look,
    ready: Ready | None,
    *,
    simulated: bool,
    names: Sequence[str] = (),
) -> str:
    from jinja2 import Environment, FunctionLoader, StrictUndefined
    from markupsafe import Markup

    running = []
    if look_of.script:
        running = [ready.scripts() if ready is not None else scripts(), _template("report.js")]
    environment = Environment(
        loader=FunctionLoader(_template),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("report.html").render(
        head=head,
        logs=logs,
        changes=changes,
        names=names,
        says=SAYS,
        shows=SHOWS,
        for_whom=FOR[look_of.asker],
        simulated=simulated,
        style=Markup(_template("report.css")),
        paper=look_of.paper,
        picture=_picture,
        spec=_spec,
        is_chart=lambda drawn: isinstance(drawn, Chart),
        scripts=[Markup(text) for text in running],
        policy=_policy(running),
    )


def _policy(running: Sequence[str]) -> Markup:
    """Return the page's content policy (W3C, CSP 3): nothing is fetched, and of scripts these very texts run.

    What markup from outside would bring along, if any got past the template, has another hash and stays dead.
    """
    from markupsafe import Markup

    policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"
    hashes = [f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'" for text in running]
    return Markup("; script-src ".join([policy, " ".join(hashes)]) if hashes else policy)


def _template(name: str) -> str:
    return (files("whorlpulse") / "views" / "templates" / name).read_text(encoding="utf-8")


def _picture(chart: Chart, key: str) -> Markup:
    """Return a chart as inline SVG that fills its part of the column, hidden from readers of its sentence."""
    from markupsafe import Markup

    text = svg(chart.spec, f"{key}-{chart.name}-")
    size = _SIZE.search(text)
    share = min(100.0 * float(size[1]) / _COLUMN, 100.0) if size is not None else 100.0
    return Markup(text.replace("<svg ", f'<svg aria-hidden="true" style="width:{share:.2f}%" ', 1))


def _spec(chart: Chart) -> Markup:
    """Return a chart's description as JSON that can stand in a script element: no `<` in it."""
    from markupsafe import Markup

    text = json.dumps(chart.spec, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
    return Markup(text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026"))
