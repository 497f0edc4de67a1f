"""The twist report as text and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from whorlpulse.units import tpi_from_tpm
from whorlpulse.views.draws import json_draws, json_rhythm, summary
from whorlpulse.views.figures import cut, pair, says, words
from whorlpulse.views.json_object import estimate, head
from whorlpulse.views.layout import Page, bullets, headline, joined, paragraph
from whorlpulse.views.lengths import findings_text, json_agreement
from whorlpulse.views.twist_profile import profile

if TYPE_CHECKING:
    from whorlpulse.estimators.plan import YarnPlan
    from whorlpulse.estimators.twist import OffPlan, TwistEstimate
    from whorlpulse.findings.report import TwistReport

_TPI = tpi_from_tpm(1.0)


def text(report: TwistReport, page: Page, *, list_draws: bool = False, picture: str | None = None) -> str:
    """Return twist and verdict first, then the stretches off plan, the profile, the draws, and the notes.

    picture: what a terminal shows beside, none elsewhere.
    """
    assert report.found is not None
    found, plan = report.found, report.plan
    return joined(
        headline(page, _twist(found), _verdict(report)),
        paragraph(page, _how_much(found, plan)),
        _off_plan(report.off_plan, plan) if len(found.along) > 1 else None,
        picture,
        profile(found.along, plan, page) if len(found.along) > 1 else None,
        findings_text(report.findings, page),
        summary(report.draws, page, listed=list_draws),
        paragraph(page, words(report.limit)) if report.limit is not None else None,
        bullets(page, report.notes),
    )


def _twist(found: TwistEstimate) -> str:
    tpi, tpi_half = pair(found.twist.value * _TPI, found.twist.half_width * _TPI)
    tpm, tpm_half = pair(found.twist.value, found.twist.half_width)
    return f"{tpi} ± {tpi_half} tpi   {tpm} ± {tpm_half} tpm"


def _verdict(report: TwistReport) -> str:
    if report.verdict is None:
        return ""
    in_part = report.verdict == "on-plan" and report.off_plan
    return says("verdict-on-plan-in-part" if in_part else f"verdict-{report.verdict}")


def _how_much(found: TwistEstimate, plan: YarnPlan | None) -> str:
    source = says(f"length-{found.length_source}")
    said = [says("twist-amount", turns=round(found.flyer_turns), length=found.length, source=source)]
    if found.spread is not None:
        said.append(says("twist-spread", percent=100.0 * found.spread))
    if plan is not None:
        low, high = plan.low_tpm * _TPI, plan.high_tpm * _TPI
        said.append(says("twist-plan", tpi=plan.twist_tpm * _TPI, tpm=plan.twist_tpm, low=low, high=high))
    return " ".join(said)


def _off_plan(off_plan: tuple[OffPlan, ...], plan: YarnPlan | None) -> str | None:
    if plan is None:
        return None
    if not off_plan:
        return f"  {says('all-on-plan')}"
    return "\n".join([f"  {says('off-plan')}", *(f"    {_stretch(s)}" for s in off_plan)])


def _stretch(s: OffPlan) -> str:
    start, stop = cut(s.from_m, 1), cut(s.to_m, 1)
    return says("off-plan-stretch", start=start, stop=stop, tpi=s.tpm * _TPI, tpm=s.tpm, verdict=s.verdict)


def json_object(report: TwistReport) -> dict[str, Any]:
    """Return the object of format section 4."""
    found, plan = report.found, report.plan
    twist = None if found is None else found.twist
    return head(report.capture, (*report.notes, *((report.limit,) if report.limit is not None else ()))) | {
        "flyer_turns": None if found is None else found.flyer_turns,
        "waiting_turns": None if found is None else found.waiting_turns,
        "length_m": None if found is None else found.length.value,
        "length_low_m": None if found is None else found.length.low,
        "length_high_m": None if found is None else found.length.high,
        "length_source": None if found is None else found.length_source,
        "wound_turns": None if found is None else estimate(found.wound),
        "bobbin_full_m": None if found is None else estimate(found.full),
        "flyer_unseen": None if found is None else found.flyer_unseen,
        "twist_tpi": estimate(twist, _TPI),
        "twist_tpm": estimate(twist),
        "along": [
            {"from_m": w.from_m, "to_m": w.to_m, "twist_tpi": w.tpm * _TPI, "twist_tpm": w.tpm}
            for w in (found.along if found is not None else ())
        ],
        "spread_percent": None if found is None or found.spread is None else 100.0 * found.spread,
        "plan_tpi": None if plan is None else plan.twist_tpm * _TPI,
        "verdict": report.verdict,
        "off_plan": [
            {
                "from_m": s.from_m,
                "to_m": s.to_m,
                "twist_tpi": s.tpm * _TPI,
                "twist_tpm": s.tpm,
                "verdict": s.verdict,
            }
            for s in report.off_plan
        ],
        "draws": json_draws(report.draws),
        "rhythm": json_rhythm(report.draws),
        **json_agreement(report.lengths, report.findings),
    }
