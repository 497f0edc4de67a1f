"""The demo's report as text and as JSON: every figure beside its simulated truth."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from whorlpulse.units import tpi_from_tpm
from whorlpulse.views.figures import cut, decimals_for, measured, plain, says, words
from whorlpulse.views.json_object import estimate, head
from whorlpulse.views.layout import Page, headline, joined, paragraph, table

if TYPE_CHECKING:
    from whorlpulse.findings.report import Comparison, DemoReport


def text(report: DemoReport, page: Page) -> str:
    """Return both captures' figures beside the truth, and what to do next."""
    twist = measured(report.skein[0].measured, tpi_from_tpm(1.0))
    return joined(
        headline(page, says("demo-headline"), says("demo-seed", seed=report.seed)),
        paragraph(page, says("demo-about", tpi=tpi_from_tpm(report.plan.twist_tpm))),
        _table((*report.bench, *report.skein)),
        f"  {says('demo-skein', twist=twist)}\n{_soft(report)}",
        _next(),
    )


def _table(rows: Iterable[Comparison]) -> str:
    cells = [(words(row.what), measured(row.measured), _truth(row), _inside(row)) for row in rows]
    return table(("", "measured, 95 %", "simulated truth", "within ±"), cells, left=(0, 1, 2, 3))


def _truth(row: Comparison) -> str:
    """The truth with one digit more than the measurement has."""
    half = row.measured.half_width
    return cut(row.truth, decimals_for(half) + 1) if half > 0 else plain(row.truth)


def _inside(row: Comparison) -> str:
    return "yes" if row.measured.low <= row.truth <= row.measured.high else "no"


def _soft(report: DemoReport) -> str:
    rows = [("measured", cut(s.from_m, 1), cut(s.to_m, 1), plain(tpi_from_tpm(s.tpm))) for s in report.soft]
    rows += [("simulated truth", cut(a, 1), cut(b, 1), plain(tpi_from_tpm(tpm))) for a, b, tpm in report.true_soft]
    return table(("off plan", "from m", "to m", "tpi"), rows, left=(0,))


def _next() -> str:
    return "\n".join(
        [
            f"  {says('demo-next')}",
            f"    whorlpulse simulate skein-soft -o skein     {says('demo-next-simulate')}",
            "    whorlpulse twist skein/log.pulses --plan skein/plan.toml",
            f"    whorlpulse --help                           {says('demo-next-help')}",
        ]
    )


def json_object(report: DemoReport) -> dict[str, Any]:
    """Return the figures as one object; simulated, and said so."""
    return head("simulated", ()) | {
        "simulated": True,
        "seed": report.seed,
        "bench": [_compared(row) for row in report.bench],
        "skein": [_compared(row) for row in report.skein],
        "off_plan": [
            {"from_m": s.from_m, "to_m": s.to_m, "twist_tpi": tpi_from_tpm(s.tpm), "verdict": s.verdict}
            for s in report.soft
        ],
        "true_off_plan": [{"from_m": a, "to_m": b, "twist_tpi": tpi_from_tpm(tpm)} for a, b, tpm in report.true_soft],
    }


def _compared(row: Comparison) -> dict[str, Any]:
    return {"what": words(row.what), "measured": estimate(row.measured), "truth": row.truth}
