"""The charts by name, in the order of `--chart`."""

from __future__ import annotations

from types import ModuleType
from typing import TYPE_CHECKING, Final

from whorlpulse.views.charts import angle, cadence, loss, ratio, rhythm, turn, twist

if TYPE_CHECKING:
    from whorlpulse.findings.full_report import FullReport
    from whorlpulse.views.charts.chart import Chart, Extent, Unsaid

_CHARTS: Final[dict[str, ModuleType]] = {m.NAME: m for m in (ratio, loss, rhythm, angle, cadence, turn, twist)}
NAMES: Final = tuple(_CHARTS)


def chart(name: str, report: FullReport, beside: FullReport | None = None) -> Chart | Unsaid:
    """Return a chart by its name; beside: another report whose chart shall have the same scales."""
    module = _CHARTS[name]
    over: Extent | None = module.extent(beside) if beside is not None else None
    made: Chart | Unsaid = module.chart(report, over)
    return made
