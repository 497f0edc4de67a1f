"""`whorlpulse gather`: every log below a folder measured, a row each in one table."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Annotated, Final

import typer

from .options import JsonOption

if TYPE_CHECKING:
    from whorlpulse.actions.gather import Measurers
    from whorlpulse.actions.gather_cores import Cores
    from whorlpulse.findings.gathered import GatheredRow
    from whorlpulse.sources.log_folder import LogPlace

Folder = Annotated[str, typer.Argument(metavar="FOLDER", help="Has logs (*.pulses) somewhere below it.")]
Out = Annotated[
    str | None, typer.Option("-o", "--output", metavar="FILE", help="The table: X.parquet, X.csv or X.jsonl.")
]
OnOption = Annotated[
    str | None, typer.Option("--on", metavar="ADDRESS", help="Of a Dask scheduler, whose workers measure instead.")
]
WorkersOption = Annotated[
    int | None, typer.Option("--workers", metavar="N", help="Processes; else one for each core of this machine.")
]
LimitOption = Annotated[
    str, typer.Option("--limit", metavar="TIME", help="For one log; a longer one is a row that says so.")
]
AnewOption = Annotated[bool, typer.Option("--anew", help="Measure again what the table has already.")]

_MOST_WORKERS: Final = 256
_SECONDS: Final = {"s": 1.0, "min": 60.0, "h": 3600.0}
_TIME: Final = re.compile(r"\s*([0-9]{1,6}(?:\.[0-9]{1,9})?)\s*(s|min|h)\s*")
_LONGEST_S: Final = 7 * 86400.0


def gather(
    folder: Folder,
    output: Out = None,
    on: OnOption = None,
    workers: WorkersOption = None,
    limit: LimitOption = "10 min",
    anew: AnewOption = False,
    json: JsonOption = False,
) -> None:
    """Every log below a folder, a row each in one table.

    A wheel.toml or plan.toml beside a log is used. Run again, it measures only what is new or changed.

    Example: whorlpulse gather logs -o results.csv
    """
    from whorlpulse.actions.gather import Gathering, sort_out
    from whorlpulse.findings.catalogue.gather import ERRORS
    from whorlpulse.sources.files import SourceError
    from whorlpulse.sources.log_folder import content_of, logs_below
    from whorlpulse.sources.results_file import Journal, check_output, earlier_rows, write_rows
    from whorlpulse.views.gather import json_object, text

    from .exits import InputError
    from .gather_row import VERSION
    from .progress import Progress
    from .show import show

    if output is None:
        raise InputError(ERRORS["output-needed"])
    check_output(output)
    measurers = _measurers(on, workers, limit)
    found = logs_below(folder)
    earlier = {} if anew else earlier_rows(output)
    gathering = Gathering(sort_out(found, earlier, VERSION, content_of))
    stopped: BaseException | None = None
    with Journal(output) as journal, Progress(f"measuring {len(found.logs)} logs") as progress:

        def done(share: float) -> None:
            progress.done = share

        try:
            gathering.run(measurers, journal.add, done)
        except (KeyboardInterrupt, SourceError) as why:
            stopped = why
    report = gathering.report(output, found.shut)
    if stopped is None or report.measured:
        write_rows(output, gathering.rows)
        show(report, text, json_object, json=json)
    if stopped is not None:
        raise stopped


def on_cores(workers: int, limit: str = "10 min") -> Cores:
    """Return what measures logs with so many processes, each within the limit."""
    from whorlpulse.actions.gather_cores import Cores
    from whorlpulse.findings.catalogue.gather import ERRORS

    from .gather_row import row_at, unmeasured

    lost = partial(unmeasured, state="failed", why=ERRORS["crashed"])
    return Cores(row_at, lost, _late(limit), workers, _seconds(limit))


def _late(limit: str) -> Callable[[LogPlace], GatheredRow]:
    from whorlpulse.findings.catalogue.gather import ERRORS

    from .gather_row import unmeasured

    return partial(unmeasured, state="failed", why=ERRORS["too-long"].format(limit=" ".join(limit.split())))


def _seconds(limit: str) -> float:
    """Return the seconds that a text like `30 s`, `10 min` or `1.5 h` states."""
    from whorlpulse.findings.catalogue.gather import ERRORS

    from .exits import InputError

    found = _TIME.fullmatch(limit)
    seconds = float(found[1]) * _SECONDS[found[2]] if found else 0.0
    if not 0 < seconds <= _LONGEST_S:
        raise InputError(ERRORS["limit"].format(given=limit))
    return seconds


def _measurers(on: str | None, workers: int | None, limit: str) -> Measurers:
    from whorlpulse.actions.gather_cluster import Cluster
    from whorlpulse.actions.gather_cores import all_cores
    from whorlpulse.findings.catalogue.gather import ERRORS

    from .exits import InputError
    from .gather_row import row_of_files, unmeasured

    if workers is not None and not 1 <= workers <= _MOST_WORKERS:
        raise InputError(ERRORS["workers"].format(given=workers, most=_MOST_WORKERS))
    if on is not None:
        return Cluster(on, row_of_files, unmeasured, _late(limit), _seconds(limit))
    return on_cores(workers or all_cores(), limit)
