"""`whorlpulse gather`: every log below a folder measured, a row each in one table."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Annotated, Final

import typer

from .options import JsonOption

if TYPE_CHECKING:
    from whorlpulse.actions.gather import Measurers
    from whorlpulse.actions.gather_cores import Cores

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
AnewOption = Annotated[bool, typer.Option("--anew", help="Measure again what the table has already.")]

_MOST_WORKERS: Final = 256


def gather(
    folder: Folder,
    output: Out = None,
    on: OnOption = None,
    workers: WorkersOption = None,
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
    measurers = _measurers(on, workers)
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


def on_cores(workers: int) -> Cores:
    """Return what measures logs with so many processes."""
    from whorlpulse.actions.gather_cores import Cores
    from whorlpulse.findings.catalogue.gather import ERRORS

    from .gather_row import row_at, unmeasured

    return Cores(row_at, partial(unmeasured, state="failed", why=ERRORS["crashed"]), workers)


def _measurers(on: str | None, workers: int | None) -> Measurers:
    from whorlpulse.actions.gather_cluster import Cluster
    from whorlpulse.actions.gather_cores import all_cores
    from whorlpulse.findings.catalogue.gather import ERRORS

    from .exits import InputError
    from .gather_row import row_of_files, unmeasured

    if workers is not None and not 1 <= workers <= _MOST_WORKERS:
        raise InputError(ERRORS["workers"].format(given=workers, most=_MOST_WORKERS))
    if on is not None:
        return Cluster(on, row_of_files, unmeasured)
    return on_cores(workers or all_cores())
