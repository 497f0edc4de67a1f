"""The health report as text and as JSON."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from whorlpulse.findings.catalogue.sensors import (
    NOT_KNOWN,
    NOTHING_WRONG,
    ONE_THING,
    SEVERAL_THINGS,
    SHAFT_NAMES,
)
from whorlpulse.views.figures import cut, plain
from whorlpulse.views.finding_text import finding_text
from whorlpulse.views.finding_words import as_object, is_fault, note_words, said
from whorlpulse.views.json_object import SCHEMA
from whorlpulse.views.layout import Page, headline, joined, paragraph, table

if TYPE_CHECKING:
    from whorlpulse.findings.health import ChannelHealth, HealthReport

_INDENT = "  "
_MOST_ANGLES = 8


def text(report: HealthReport, page: Page) -> str:
    """Return the answer in one sentence, then findings with evidence, channels, lines, and notes."""
    shown = [f for f in report.findings if f.id != "log-healthy"]
    return joined(
        _answer(report, page),
        *(finding_text(f, page) for f in shown),
        _channels(report.channels),
        paragraph(page, _lines(report)),
        "\n".join(_bullet(page, note_words(n)) for n in report.notes),
    )


def _answer(report: HealthReport, page: Page) -> str:
    faults = [f for f in report.findings if is_fault(f)]
    if not faults:
        seconds = plain(report.duration_s or 0.0)
        return headline(page, NOTHING_WRONG.format(pulses=report.lines.pulses, seconds=seconds))
    worst = said(faults[0]).says
    sentence = ONE_THING if len(faults) == 1 else SEVERAL_THINGS
    filled = textwrap.wrap(sentence.format(count=len(faults), worst=worst), page.width - 2)
    return "\n".join(headline(page, line) for line in filled)


def _channels(channels: tuple[ChannelHealth, ...]) -> str | None:
    if not channels:
        return None
    head = ("channel", "pulses", "missed", "extra", "in no run", "targets", "at", "timing noise")
    return table(head, [_channel(c) for c in channels], left=(0, 6, 7))


def _channel(channel: ChannelHealth) -> tuple[str, ...]:
    angles = channel.angles_turns
    shown = angles is not None and len(angles) <= _MOST_ANGLES
    at = " ".join(f"{360.0 * a:.0f}°" for a in angles or ()) if shown else "–"
    noise = f"{plain(1e6 * channel.noise_s)} µs" if channel.noise_s is not None else NOT_KNOWN
    counts = ("–" if n is None else str(n) for n in (channel.missed, channel.extra))
    name = f"{channel.letter} {SHAFT_NAMES[channel.letter]}"
    return (name, str(channel.pulses), *counts, str(channel.idle), str(channel.targets), at, noise)


def _lines(report: HealthReport) -> str:
    lines = report.lines
    parts = [
        f"{lines.total} lines: {lines.pulses} pulses, {lines.keep_alives} keep-alives, {lines.overruns} overruns, "
        f"{lines.metadata} # lines, {lines.malformed} malformed, {lines.bad_checksum} with a wrong checksum",
        f"{lines.lost} lost",
    ]
    if lines.torn_tail:
        parts.append("the last one torn")
    if report.duration_s is not None:
        parts.append(f"{cut(report.duration_s, 1)} s")
    return "; ".join(parts) + "."


def _bullet(page: Page, words: str) -> str:
    return textwrap.fill(words, page.width - 2, initial_indent=f"{_INDENT}· ", subsequent_indent=f"{_INDENT}  ")


def json_object(report: HealthReport) -> dict[str, Any]:
    """Return the object of format section 4."""
    lines = report.lines
    return {
        "schema": SCHEMA,
        "capture": report.capture,
        "notes": [note_words(n) for n in report.notes],
        "lines": {
            "total": lines.total,
            "pulses": lines.pulses,
            "malformed": lines.malformed,
            "bad_checksum": lines.bad_checksum,
            "lost": lines.lost,
            "torn_tail": lines.torn_tail,
            "keep_alives": lines.keep_alives,
            "overruns": lines.overruns,
            "metadata": lines.metadata,
        },
        "channels": {
            c.letter: {
                "pulses": c.pulses,
                "missed": c.missed,
                "extra": c.extra,
                "idle": c.idle,
                "targets": c.targets,
                "target_angles_turns": None if c.angles_turns is None else list(c.angles_turns),
                "timing_noise_s": c.noise_s,
            }
            for c in report.channels
        },
        "duration_s": report.duration_s,
        "findings": [as_object(f) for f in report.findings],
    }
