"""The ply report as text and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.plying import ply_direction
from whorlpulse.units import tpi_from_tpm
from whorlpulse.views.figures import measured, plain, says
from whorlpulse.views.json_object import estimate, head
from whorlpulse.views.layout import Page, bullets, headline, joined, paragraph, table
from whorlpulse.views.plan import draft_of, ratio_of

if TYPE_CHECKING:
    from whorlpulse.estimators.plying import Plying
    from whorlpulse.findings.report import Figure
    from whorlpulse.findings.yarn_reports import PlyReport, Spun

_TPI = tpi_from_tpm(1.0)


def text(report: PlyReport, page: Page) -> str:
    """Return the ply twist first, then what it left in the singles, the plan, the whorls, and the notes."""
    assert report.mean is not None
    return joined(
        _headline(report, page),
        paragraph(page, _made(report)),
        _strands(report) if len(report.singles) > 1 else None,
        paragraph(page, planned) if (planned := _plan(report)) else None,
        paragraph(page, lengths) if (lengths := _lengths(report)) else None,
        _whorls(report),
        bullets(page, report.notes),
    )


def _headline(report: PlyReport, page: Page) -> str:
    found, target = report.found, report.target_tpm
    if found is None:
        assert target is not None
        beside = says("ply-to-do", direction=report.ply_direction, plies=report.plies)
        return headline(page, f"{plain(target * _TPI)} tpi   {plain(target)} tpm", beside)
    key = "ply-same-way" if found.balance is None else f"ply-{found.balance}"
    beside = says(key, direction=report.ply_direction, singles=report.singles_direction)
    return headline(page, f"{measured(found.ply, _TPI)} tpi   {measured(found.ply)} tpm", beside)


def _made(report: PlyReport) -> str:
    assert report.mean is not None
    said = [says("ply-singles", **_both(report.mean), direction=report.singles_direction)]
    found = report.found
    if found is None:
        return said[0]
    if found.balance is not None:
        said.append(says("ply-share", percent=found.share.times(100.0)))
    said.append(_left(report, found))
    if found.balance in ("under", "over"):
        apart = found.balanced_tpm - found.ply.value
        key = "ply-more" if apart > 0 else "ply-less"
        said.append(says(key, tpi=abs(apart) * _TPI, tpm=abs(apart), direction=report.ply_direction))
    return " ".join(said)


def _left(report: PlyReport, found: Plying) -> str:
    left = found.left
    if left.low <= 0 <= left.high:
        return says("ply-left-unsure", **_both(left))
    way = report.singles_direction if left.value > 0 else ply_direction(report.singles_direction)
    return says("ply-left", **_both(left.times(1.0 if left.value > 0 else -1.0)), direction=way)


def _both(m: Measured) -> dict[str, Figure]:
    return {"tpi": m.times(_TPI), "tpm": m}


def _strands(report: PlyReport) -> str:
    rows = [[s.capture, f"{measured(s.twist, _TPI)} tpi", f"{measured(s.twist)} tpm"] for s in report.singles]
    return table([says("ply-strand"), "twist", ""], rows, left=(0,))


def _plan(report: PlyReport) -> str | None:
    plan = report.planned
    if plan is None:
        return None
    said = []
    if report.place is not None and plan.planned_ply_tpm is not None:
        tpm = plan.planned_ply_tpm
        low, high = tpm * (1.0 - plan.tolerance) * _TPI, tpm * (1.0 + plan.tolerance) * _TPI
        place = says(f"place-{report.place}")
        said.append(says("ply-plan", tpi=tpm * _TPI, tpm=tpm, low=low, high=high, place=place))
    low, high = plan.low_tpm * _TPI, plan.high_tpm * _TPI
    place = says(f"place-{report.singles_place}")
    figures = {"tpi": plan.twist_tpm * _TPI, "tpm": plan.twist_tpm, "low": low, "high": high}
    said.append(says("ply-plan-singles", **figures, place=place))
    if report.plied_tex is not None:
        said.append(says("ply-count", tex=report.plied_tex))
    return " ".join(said)


def _lengths(report: PlyReport) -> str | None:
    if report.needed_m is None or report.ply is None or report.ply.length is None:
        return None
    needed, total = report.needed_m, report.needed_m.times(report.plies)
    said = [says("ply-length", length=report.ply.length, needed=needed, total=total)]
    have = [s.length for s in report.singles if s.length is not None]
    if have and len(have) == len(report.singles):
        said.append(says("ply-length-logs", have=", ".join(measured(h) for h in have)))
    return " ".join(said)


def _whorls(report: PlyReport) -> str | None:
    if not report.whorls or report.target_tpm is None:
        return None
    rows = [[w.name or "–", ratio_of(w), draft_of(w)] for w in report.whorls]
    title = says("ply-whorls", tpi=report.target_tpm * _TPI)
    return f"  {title}\n" + table(["whorl", "ratio", "feed per treadle"], rows, left=(0,))


def json_object(report: PlyReport) -> dict[str, Any]:
    """Return singles, ply, what is left, and the balance; null for what is not known."""
    found = report.found
    return head(report.capture, report.notes) | {
        "plies": report.plies,
        "singles_direction": report.singles_direction,
        "ply_direction": report.ply_direction,
        "contraction_percent": 100.0 * report.contraction,
        "singles": [_spun(s) for s in report.singles],
        "ply": None if report.ply is None else _spun(report.ply),
        "singles_twist_tpi": estimate(report.mean, _TPI),
        "singles_twist_tpm": estimate(report.mean),
        "ply_twist_tpi": None if found is None else estimate(found.ply, _TPI),
        "ply_twist_tpm": None if found is None else estimate(found.ply),
        "share_percent": None if found is None else estimate(found.share, 100.0),
        "left_tpi": None if found is None else estimate(found.left, _TPI),
        "left_tpm": None if found is None else estimate(found.left),
        "balance": None if found is None else found.balance,
        "target_ply_tpi": None if report.target_tpm is None else report.target_tpm * _TPI,
        "target_ply_tpm": report.target_tpm,
        "plan_ply_tpm": None if report.planned is None else report.planned.planned_ply_tpm,
        "verdict": report.place,
        "singles_verdict": report.singles_place,
        "singles_needed_m": estimate(report.needed_m),
        "plied_tex": report.plied_tex,
        "whorls": [
            {"name": w.name, "ratio": w.ratio, "feed_per_treadle_m": w.draft_per_treadle_m} for w in report.whorls
        ],
    }


def _spun(s: Spun) -> dict[str, Any]:
    return {"capture": s.capture, "twist_tpm": estimate(s.twist), "length_m": estimate(s.length)}
