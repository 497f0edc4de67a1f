"""The commands as functions: a log in, an `Answer` out, which is text, plain values and a page for notebooks.

What the package offers under its own name (`whorlpulse.ratio`) stands here, in `python_log` and in `python_answer`, and
is listed in the package's `__init__.pyi`. Text with units comes in, as in options and files; a report's own figures are
in SI units, those of `as_dict` named by their unit.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from whorlpulse.findings.catalogue import sentence
from whorlpulse.simulate import Capture
from whorlpulse.sources.files import SourceError

from .inputs import Given, plan_notes
from .python_answer import Answer, FullAnswer, answer, full_answer
from .python_log import UNREADABLE, BadInputError, Log, Source, read_log

if TYPE_CHECKING:
    from whorlpulse.estimators.plan import YarnPlan
    from whorlpulse.estimators.slip_reference import Reference
    from whorlpulse.findings.cadence_report import CadenceReport
    from whorlpulse.findings.health import HealthReport
    from whorlpulse.findings.report import Note, RatioReport, TwistReport
    from whorlpulse.findings.slip_report import SlipReport


def ratio(log: Log | Source) -> Answer[RatioReport]:
    """Return the ratio of each run and whorl, as `whorlpulse ratio` does."""
    from whorlpulse.actions.measure_ratio import measure_ratio
    from whorlpulse.views import ratio as view

    log = _read(log)
    return answer(measure_ratio(log.recording, log.rig, log.notes), view, log.about)


def twist(log: Log | Source) -> Answer[TwistReport]:
    """Return the twist in the yarn, against the log's plan if it has one, as `whorlpulse twist` does."""
    from whorlpulse.actions.measure_twist import measure_twist
    from whorlpulse.views import twist as view

    log = _read(log)
    plan, notes = _planned(log)
    return answer(measure_twist(log.recording, log.rig, plan, [*log.notes, *notes]), view, log.about)


def slip(log: Log | Source, reference: float | str | Path | Log | None = None) -> Answer[SlipReport]:
    """Return how much the band loses, when and why, as `whorlpulse slip` does.

    reference: what stands for "without slip": a ratio, 6.21 or "6.21+-0.01", or a slow, unloaded log. Raises
    BadInputError if it is none.
    """
    from whorlpulse.actions.measure_slip import measure_slip
    from whorlpulse.views import slip as view

    log = _read(log)
    return answer(measure_slip(log.recording, log.rig, _references(log, reference), log.notes), view, log.about)


def cadence(log: Log | Source, treadles: Literal[1, 2] | None = None) -> Answer[CadenceReport]:
    """Return how fast and how steadily the wheel is treadled, as `whorlpulse cadence` does."""
    from whorlpulse.actions.measure_cadence import measure_cadence
    from whorlpulse.views import cadence as view

    log = _read(log)
    return answer(measure_cadence(log.recording, log.rig, treadles, log.notes), view, log.about)


def check(log: Log | Source) -> Answer[HealthReport]:
    """Return what is wrong with the log or a sensor, as `whorlpulse check` does."""
    from whorlpulse.actions.health import check_health
    from whorlpulse.views import check as view

    log = _read(log)
    return answer(check_health(log.recording, log.rig, log.notes), view, log.about)


def report(log: Log | Source, reference: float | str | Path | Log | None = None) -> FullAnswer:
    """Return everything that a log says, as `whorlpulse report` does."""
    from whorlpulse.actions.make_report import Asked, make_report

    log = _read(log)
    plan, notes = _planned(log)
    known = _references(log, reference)
    return full_answer(
        make_report(Asked(log.recording, log.rig, plan, known, None, log.notes, notes, log.files, log.place)),
        log.about,
    )


def samples() -> dict[str, Path]:
    """Return the folders of the sample captures by name; all are simulated, and the NOTES.md in each says of what."""
    from whorlpulse.sources.sample_folder import sample_folders

    return sample_folders()


def scenarios() -> dict[str, str]:
    """Return what can be simulated: names, and what each is."""
    from whorlpulse.simulate import scenario_names

    return dict(scenario_names())


def simulated(scenario: str = "steady", seed: int = 1) -> Capture:
    """Return a simulated capture: `log` (bytes), `truth`, `wheel_toml`, `plan_toml`; `read_log` takes it as it is.

    Raises BadInputError for a scenario that is not there.
    """
    from whorlpulse.simulate import scenario as named
    from whorlpulse.simulate import scenario_names, simulate

    if scenario not in scenario_names():
        raise BadInputError(sentence("which-scenario").format(names=", ".join(scenario_names())))
    return simulate(named(scenario), seed)


def gather(folder: str | Path, workers: int | None = None) -> list[dict[str, Any]]:
    """Return a row for every log below a folder, in the order of their names, as `whorlpulse gather` writes them.

    workers: processes; else one for each core. They import the program that calls this: a script calls it under
    `if __name__ == "__main__"`. Raises BadInputError when there are no logs.
    """
    import msgspec

    from whorlpulse.actions.gather_cores import all_cores
    from whorlpulse.sources.log_folder import logs_below

    from .gather import on_cores

    try:
        places = logs_below(folder).logs
    except SourceError as fault:
        raise BadInputError(str(fault)) from None
    rows = sorted(on_cores(workers or all_cores()).rows(places), key=lambda row: row.log)
    return [msgspec.structs.asdict(row) for row in rows]


def _read(log: Log | Source) -> Log:
    return log if isinstance(log, Log) else read_log(log)


def _planned(log: Log) -> tuple[YarnPlan | None, list[Note]]:
    return (None, []) if log.plan is None else (log.plan.yarn, plan_notes(log.plan))


def _references(log: Log, given: float | str | Path | Log | None) -> list[Reference]:
    from whorlpulse.actions.measure_slip import reference_ratios
    from whorlpulse.findings.catalogue.slip import ERRORS
    from whorlpulse.views.slip_words import note_words

    from .slip import references

    if given is None:
        return []
    try:
        if not isinstance(given, Log):
            return references(str(given), Given())
    except UNREADABLE as fault:
        raise BadInputError(str(fault)) from None
    found, why_not = reference_ratios(given.recording, given.rig)
    if why_not is not None:
        raise BadInputError(ERRORS["reference-log"].format(file=given.name, why=note_words(why_not)))
    return found
