"""The slip report as text: the answer, its parts, bursts, findings, notes."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from whorlpulse.estimators.measured import Measured
from whorlpulse.findings.catalogue.slip import LOADS, SOURCES
from whorlpulse.views.figures import alone, cut, measured, pair, plain
from whorlpulse.views.finding_text import finding_text
from whorlpulse.views.layout import Page, headline, joined, paragraph, table
from whorlpulse.views.slip_json import json_object
from whorlpulse.views.slip_words import answer, note_words

if TYPE_CHECKING:
    from whorlpulse.estimators.slip import SlipEstimate, WhorlSlip
    from whorlpulse.estimators.slip_events import Burst
    from whorlpulse.findings.slip_report import SlipReport

__all__ = ["json_object", "text"]

_MOST_BURSTS = 12


def text(report: SlipReport, page: Page, picture: str | None = None) -> str:
    """Return the answer first, then parts, bursts, findings and notes; for a report with an answer.

    picture: what a terminal shows beside, none elsewhere.
    """
    assert report.found is not None
    found = report.found
    return joined(
        _answer(found, page),
        *(_reference(w, page) for w in found.whorls),
        picture,
        _parts(found),
        *(_loads(w, page) for w in found.whorls),
        _bursts(found, page),
        *(finding_text(f, page) for f in report.findings),
        "\n".join(_bullet(page, note_words(n)) for n in report.notes),
    )


def _answer(found: SlipEstimate, page: Page) -> str:
    assert found.slip is not None
    assert found.reference is not None
    value, half = pair(100.0 * found.slip.value, 100.0 * found.slip.half_width)
    shown = f"{value} % slip  ± {half}" if half else f"{value} % slip"
    if found.reference.source == "this-capture":
        words = "slip-own"
    elif abs(found.slip.value) <= found.slip.half_width:
        words = "slip-undecided"
    else:
        words = "slip-sure" if found.slip.value > 0.0 else "slip-above"
    return headline(page, shown, answer(words))


def _reference(whorl: WhorlSlip, page: Page) -> str:
    reference = whorl.reference
    source = SOURCES["wheel-file-diameters" if reference.by_diameters else reference.source]
    name = f" ({reference.name})" if reference.name else ""
    return paragraph(page, answer("slip-reference", ratio=whorl.ratio, reference=reference.ratio, source=source + name))


def _parts(found: SlipEstimate) -> str:
    """A table of what the slip consists of, a line a part."""
    rows = []
    for w in found.whorls:
        name = w.reference.name or (alone(w.ratio) if len(found.whorls) > 1 else "")
        lost = w.kept.value - w.ratio.value
        bursts = [b for b in found.bursts if found.whorls[b.whorl] is w and b.counted]
        if not found.unseen:
            share = cut(100.0 * lost / w.reference.ratio.value, 2) if bursts else "none"
            rows.append(
                (
                    name,
                    "bursts",
                    share,
                    f"{len(bursts)}, {cut(sum(b.lost_counted for b in bursts), 2)} turns" if bursts else "",
                )
            )
        rows.append((name, "creep", _percent(w.creep), ""))
        for line in w.lines:
            label = {"band": "band's round", "wheel": "wheel's turn", "unknown": "rhythm"}[line.source]
            rows.append((name, label, f"± {cut(100.0 * line.share, 2)}", f"{plain(line.per_wheel_turn)} a wheel turn"))
    if not any(row[0] for row in rows):
        return table(("part", "%", ""), [row[1:] for row in rows], left=(0, 2))
    return table(("whorl", "part", "%", ""), rows, left=(0, 1, 3))


def _percent(m: Measured | None) -> str:
    return answer("creep-unknown") if m is None else measured(m, 100.0)


def _loads(whorl: WhorlSlip, page: Page) -> str | None:
    sure = [
        f"{LOADS[t.load]} ({measured(Measured(100.0 * t.swing, 100.0 * t.swing_u))})"
        for t in whorl.tracked
        if t.sure and t.swing > 0.0
    ]
    return paragraph(page, answer("slip-loads", loads=", ".join(sure))) if sure else None


def _bursts(found: SlipEstimate, page: Page) -> str | None:
    if not found.bursts:
        return None
    largest = sorted(found.bursts, key=lambda b: -b.lost)[:_MOST_BURSTS]
    shown = [b for b in found.bursts if any(b is x for x in largest)]
    head = ("at, s", "for, s", "wheel turn", "at angle", "turns lost", "just before")
    lines = table(head, [_burst(b) for b in shown], left=(5,), gap="  ")
    more = len(found.bursts) - len(shown)
    return lines + ("\n" + paragraph(page, answer("slip-more", more=more)) if more else "")


def _burst(burst: Burst) -> tuple[str, ...]:
    before = []
    if not burst.counted:
        before.append("start or stop")
    if burst.winding:
        before.append("winding on")
    if burst.harder > 0.9:
        before.append("hard push")
    return (
        cut(burst.start_s, 1),
        cut(burst.end_s - burst.start_s, 1),
        cut(burst.wheel_turn, 1),
        f"{360.0 * burst.wheel_angle_turns:.0f}°",
        cut(burst.lost, 2),
        ", ".join(before) or "–",
    )


def _bullet(page: Page, words: str) -> str:
    return textwrap.fill(words, page.width - 2, initial_indent="  · ", subsequent_indent="    ")
