"""One line of a gathering: everything that one log of many says, flat, so that tables hold it.

Names end in their unit as in the JSON objects (format section 4). What a log can't say is None, with the reason in
words in the question's `_why`. Lists are by whorl, ascending by ratio.
"""

from __future__ import annotations

from types import UnionType
from typing import Any, Final, Literal, NamedTuple, get_args, get_origin, get_type_hints

import msgspec

#: Grows when a column is added or changes its meaning: rows of another number are measured anew.
ROW_SCHEMA: Final = 1

State = Literal["measured", "cannot-say", "unreadable", "failed"]


class GatheredRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One log. state: measured (something was answered), cannot-say (read, but nothing was), unreadable, failed.

    log: its path below the folder, with `/`. why: of the states that are not `measured`. content: what was measured, a
    digest of log, wheel and plan file; None when they could not be read. version: of program and columns.
    """

    log: str
    state: State
    why: str | None = None
    content: str | None = None
    version: str = ""
    wheel_file: str | None = None
    plan_file: str | None = None
    started: str | None = None
    board: str | None = None
    simulated: bool | None = None
    duration_s: float | None = None
    lines: int | None = None
    malformed_lines: int | None = None
    bad_checksum_lines: int | None = None
    lost_lines: int | None = None
    torn_tail: bool | None = None
    findings: tuple[str, ...] = ()
    wheel_turns: float | None = None
    flyer_turns: float | None = None
    ratio: float | None = None
    ratio_low: float | None = None
    ratio_high: float | None = None
    ratio_why: str | None = None
    whorl_ratios: tuple[float, ...] = ()
    whorl_names: tuple[str | None, ...] = ()
    slip_percent: float | None = None
    slip_low_percent: float | None = None
    slip_high_percent: float | None = None
    slip_reference: str | None = None
    slip_why: str | None = None
    creep_percent: float | None = None
    creep_low_percent: float | None = None
    creep_high_percent: float | None = None
    bursts: int | None = None
    cadence_per_min: float | None = None
    cadence_low_per_min: float | None = None
    cadence_high_per_min: float | None = None
    cadence_why: str | None = None
    steadiness_percent: float | None = None
    length_m: float | None = None
    length_source: str | None = None
    twist_tpi: float | None = None
    twist_tpm: float | None = None
    twist_low_tpm: float | None = None
    twist_high_tpm: float | None = None
    twist_why: str | None = None
    spread_percent: float | None = None
    plan_tpi: float | None = None
    verdict: str | None = None
    off_plan_m: float | None = None


class Column(NamedTuple):
    """A column of the table: its name, the type of its values, and whether a cell holds a list of them."""

    name: str
    kind: type
    listed: bool


def _column(name: str, hint: Any) -> Column:
    listed = get_origin(hint) is tuple
    hint = get_args(hint)[0] if listed else hint
    if isinstance(hint, UnionType):
        hint = next(kind for kind in get_args(hint) if kind is not type(None))
    return Column(name, hint if isinstance(hint, type) else str, listed)


#: The table's columns in their order.
COLUMNS: Final = tuple(_column(name, hint) for name, hint in get_type_hints(GatheredRow).items())


class GatherReport(msgspec.Struct, frozen=True):
    """What became of a folder's logs. counts: rows by state; measured, known: this time, and from before.

    gone: rows of logs that are no longer there, kept. shut: folders that could not be looked into.
    stopped: before the end, by the user. worst: some rows without a measurement, to name.
    """

    output: str
    counts: dict[State, int]
    measured: int
    known: int
    gone: int
    shut: tuple[str, ...] = ()
    left: int = 0
    worst: tuple[GatheredRow, ...] = ()


def row_version(program: str) -> str:
    """Return the version that rows of this program carry."""
    return f"{program}/{ROW_SCHEMA}"
