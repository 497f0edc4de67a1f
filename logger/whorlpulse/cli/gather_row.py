"""From the bytes of one log and its neighbours to its row: a pure function, run by any process on any machine.

Text with units is read here, so that a worker needs nothing but the bytes. Whatever is wrong with one log becomes its
row: nothing is raised for it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import msgspec

from whorlpulse import __version__
from whorlpulse.actions.health import check_health
from whorlpulse.actions.measure_cadence import measure_cadence
from whorlpulse.actions.measure_ratio import measure_ratio
from whorlpulse.actions.measure_slip import measure_slip
from whorlpulse.actions.measure_twist import measure_twist
from whorlpulse.actions.recording import Recording, read_recording
from whorlpulse.estimators.plan import YarnPlan
from whorlpulse.findings.catalogue.gather import ERRORS
from whorlpulse.findings.gathered import GatheredRow, State, row_version
from whorlpulse.findings.health import HealthReport
from whorlpulse.findings.report import Note
from whorlpulse.logfile import LogError
from whorlpulse.rig import Rig
from whorlpulse.sources.files import BLOCK_BYTES, SourceError
from whorlpulse.sources.log_folder import LogFiles, LogPlace, files_of
from whorlpulse.views.gather import Answers, with_answers, with_health

from .exits import InputError
from .inputs import Given, rig_of
from .plan_file import PlanError, read_plan
from .wheel_file import WheelError, read_wheel

VERSION: Final = row_version(__version__)
#: What is wrong with the files and not with the program.
_UNREADABLE: Final = (LogError, InputError, WheelError, PlanError)


@dataclass(frozen=True)
class _Read:
    """A log with all that belongs to it."""

    recording: Recording
    rig: Rig
    notes: list[Note]
    plan: YarnPlan | None


def row_at(place: LogPlace) -> GatheredRow:
    """Return the row of the log at a place."""
    try:
        files = files_of(place)
    except SourceError as fault:
        return unmeasured(place, "unreadable", str(fault))
    return row_of_files(files)


def row_of_files(files: LogFiles) -> GatheredRow:
    """Return the row of these bytes; the same bytes give the same row, wherever it is run."""
    row = GatheredRow(
        log=files.log,
        state="unreadable",
        content=files.content(),
        version=VERSION,
        wheel_file="wheel.toml" if files.wheel is not None else None,
        plan_file="plan.toml" if files.plan is not None else None,
    )
    try:
        return _measured(row, files)
    except _UNREADABLE as fault:
        return msgspec.structs.replace(row, why=str(fault))
    except Exception as fault:
        said = ERRORS["fault"].format(fault=f"{type(fault).__name__}: {str(fault)[:200]}")
        return msgspec.structs.replace(row, state="failed", why=said)


def unmeasured(place: LogPlace, state: State, why: str) -> GatheredRow:
    """Return the row of a log whose bytes never came to be measured."""
    return GatheredRow(log=place.name, state=state, why=why, version=VERSION)


def _measured(row: GatheredRow, files: LogFiles) -> GatheredRow:
    recording = read_recording(lambda: _blocks(files.data), files.log.rsplit("/", 1)[-1])
    header = recording.log.header
    row = msgspec.structs.replace(
        row,
        started=header.started,
        board=header.board,
        simulated=(header.board or "").strip().lower() == "simulated",
    )
    row = with_health(row, _health(recording, files))
    try:
        read = _read(recording, files)
    except _UNREADABLE as fault:  # what became of its lines is known all the same
        return msgspec.structs.replace(row, why=str(fault))
    measured = read.recording, read.rig
    return with_answers(
        row,
        Answers(
            measure_ratio(*measured, read.notes),
            measure_slip(*measured, (), read.notes),
            measure_cadence(*measured, None, read.notes),
            measure_twist(*measured, read.plan, read.notes),
        ),
    )


def _read(recording: Recording, files: LogFiles) -> _Read:
    plan = read_plan(files.plan, "plan.toml") if files.plan is not None else None
    rig, notes = _rig(recording, files)
    return _Read(recording, rig, notes, plan.yarn if plan is not None else None)


def _rig(recording: Recording, files: LogFiles) -> tuple[Rig, list[Note]]:
    rig, notes = rig_of(recording, Given(), needs_length=False)
    return (read_wheel(files.wheel, "wheel.toml").onto(rig) if files.wheel is not None else rig), notes


def _health(recording: Recording, files: LogFiles) -> HealthReport:
    """Examine the log, whatever its header or its wheel file say that can't be used."""
    lenient = recording  # as it is where nothing is wrong: what is made of it is then worked out once for all questions
    if recording.log.header.problems:
        header = replace(recording.log.header, problems=())
        lenient = replace(recording, log=replace(recording.log, header=header))
    try:
        rig, notes = _rig(lenient, files)
    except WheelError:
        rig, notes = rig_of(lenient, Given(), needs_length=False)
    return check_health(lenient, rig, notes)


def _blocks(data: bytes) -> Iterator[bytes]:
    yield from (data[i : i + BLOCK_BYTES] for i in range(0, len(data), BLOCK_BYTES))
