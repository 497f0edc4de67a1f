"""What is said when a live view is over: the totals of each whole log."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from whorlpulse.units import tpi_from_tpm
from whorlpulse.views.figures import measured
from whorlpulse.views.live_json import pulses_text
from whorlpulse.views.live_words import live_note, live_says
from whorlpulse.views.recording_line import clock

if TYPE_CHECKING:
    from whorlpulse.findings.live import Totals, WheelNow


def closing_lines(now: WheelNow, kept_at: str | None, width: int = 80) -> list[str]:
    """Return a wheel's last lines, filled to `width` characters; a path stays in one piece, to be copied.

    kept_at: where its log is, None if it was not kept.
    """
    if now.says is not None and now.says.key == "stopped":
        return _filled(f"{now.name}: {live_note(now.says)}", width)
    if not any(now.pulses.values()):
        return _filled(live_says("end-none", name=now.name), width)
    lines = _filled(live_says("end-wheel", name=now.name, pulses=pulses_text(now), simulated=_simulated(now)), width)
    if now.totals is not None:
        lines += [part for line in _totals(now.totals) for part in _filled(line, width, "  ")]
    if kept_at is not None:
        lines.append(f"  {live_says('end-kept', path=kept_at)}")
    return lines


def _filled(line: str, width: int, indent: str = "") -> list[str]:
    """The line in as many as it takes, those after the first further in; no word is torn."""
    return textwrap.wrap(
        line,
        width,
        initial_indent=indent,
        subsequent_indent=f"{indent}  ",
        break_long_words=False,
        break_on_hyphens=False,
    )


def _simulated(now: WheelNow) -> str:
    return live_says("end-simulated") if now.simulated else ""


def _totals(totals: Totals) -> list[str]:
    found = [live_says("end-measured", clock=clock(totals.to_s))]
    if totals.ratio is not None:
        found.append(live_says("end-ratio", ratio=measured(totals.ratio)))
    if totals.cadence_hz is not None:
        found.append(live_says("end-cadence", cadence=measured(totals.cadence_hz, 60.0)))
    if totals.twist_tpm is not None and totals.length_m is not None:
        tpi = measured(totals.twist_tpm, tpi_from_tpm(1.0))
        found.append(live_says("end-twist", tpi=tpi, tpm=measured(totals.twist_tpm), length=measured(totals.length_m)))
    if totals.slip is not None:
        found.append(live_says("end-slip", percent=measured(totals.slip, 100.0)))
    return found + [live_note(n) for n in totals.notes]
