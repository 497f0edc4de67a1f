"""The reports that are kept for comparison: one for each verdict and for each way in which a log can be of no use."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from report_pages import Page, asked, captured, pair_of, report_of, with_log

from whorlpulse.actions.make_report import make_report
from whorlpulse.findings.full_report import FullReport
from whorlpulse.views.report_page import Look, html, pair_html

FOLDER = Path(__file__).resolve().parents[1] / "golden" / "report"
_STILL = Look(script=False)


def _planned(name: str, plan: str) -> FullReport:
    return make_report(asked(captured(name), plan=plan))


def _plan(tpi: float, tolerance: str = "10 %") -> str:
    return f'[yarn]\ntwist = "{tpi} tpi"\ntolerance = "{tolerance}"\n'


def _without_flyer(log: bytes) -> bytes:
    return b"".join(line for line in log.splitlines(keepends=True) if not line.startswith(b"f,"))


CASES: dict[str, Callable[[], str]] = {
    "on-plan": lambda: html(report_of("skein-on-plan"), _STILL),
    "on-plan-in-part": lambda: html(report_of("skein-soft"), _STILL),
    "under": lambda: html(_planned("skein-on-plan", _plan(6.5)), _STILL),
    "over": lambda: html(_planned("skein-on-plan", _plan(4.0)), _STILL),
    # the edge of the plan, 5.2 tpi, lies within the ± of the twist
    "undecided": lambda: html(_planned("skein-on-plan", _plan(5.0, "4 %")), _STILL),
    "total-only": lambda: html(make_report(asked(captured("steady"), plan=_plan(5.2), total="3.70 m")), _STILL),
    "no-length": lambda: html(report_of("three-whorls"), _STILL),
    "bursts": lambda: html(report_of("slipping-band"), Look("repairer", script=False)),
    "creep": lambda: html(report_of("creeping-band"), Look("repairer", script=False)),
    "joint": lambda: html(report_of("bad-joint"), Look("repairer", script=False)),
    "no-reference": lambda: html(make_report(asked(captured("planned-bursts"), wheel=False)), _STILL),
    "treadling": lambda: html(report_of("hard-uneven"), Look("teacher", script=False)),
    "faulty-sensors": lambda: html(report_of("faulty-sensors"), _STILL),
    "coarse": lambda: html(report_of("coarse-clock"), _STILL),
    "too-short": lambda: html(
        make_report(asked(with_log(captured("steady"), lambda log: b"".join(log.splitlines(True)[:40])))), _STILL
    ),
    "no-flyer": lambda: html(make_report(asked(with_log(captured("steady"), _without_flyer))), _STILL),
    "empty": lambda: html(make_report(asked(with_log(captured("steady"), lambda log: b""))), _STILL),
    "two-better": lambda: pair_html(pair_of("slipping-band", "skein-on-plan"), Look("repairer", script=False)),
    "two-whorls": lambda: pair_html(pair_of("three-whorls", "steady"), _STILL),
}


def outline(case: str) -> str:
    """Return what the page of a case says now."""
    return Page.of(CASES[case]()).outline()
