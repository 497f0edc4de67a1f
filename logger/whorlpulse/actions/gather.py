"""Many logs: which of them are known already, the rest measured by whoever measures, every row kept at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import msgspec

from whorlpulse.findings.gathered import GatheredRow, GatherReport
from whorlpulse.sources.log_folder import Found, LogPlace

#: So many rows without a measurement are named on the screen; the table has them all.
_NAMED: Final = 8
#: A measurement that died is tried again, and a file that could not be read may have been mended.
_TRIED_AGAIN: Final = ("failed",)


class Measurers(Protocol):
    """Whoever measures: the cores of this machine, or a cluster."""

    def rows(self, places: Sequence[LogPlace]) -> Iterator[GatheredRow]:
        """Yield the row of every place, in the order in which they are ready; a log that can't be is a row too."""


@dataclass(frozen=True)
class SortedOut:
    """A folder's logs against the rows from before. known: rows that hold; fresh: logs to measure; gone: rows of logs
    that are no longer there, or under another name now.
    """

    known: Mapping[str, GatheredRow]
    fresh: tuple[LogPlace, ...]
    gone: Mapping[str, GatheredRow]


def sort_out(
    found: Found,
    earlier: Mapping[str, GatheredRow],
    version: str,
    content_of: Callable[[LogPlace], str | None],
) -> SortedOut:
    """Return what is known already: same bytes of log, wheel and plan file, measured by the same version.

    A log that was only moved or renamed takes its row along. content_of: the digest of a log's bytes.
    """
    there = {place.name for place in found.logs}
    moved = {row.content: row for name, row in earlier.items() if name not in there and _holds(row, version)}
    known, fresh, left = {}, [], {name: row for name, row in earlier.items() if name not in there}
    for place in found.logs:
        row = earlier.get(place.name)
        content = content_of(place) if earlier else None
        if content is not None and row is not None and row.content == content and _holds(row, version):
            known[place.name] = row
        elif content is not None and (row := moved.get(content)) is not None and _same_file(row.log, place.name):
            known[place.name] = msgspec.structs.replace(row, log=place.name)
            left.pop(row.log, None)
        else:
            fresh.append(place)
    return SortedOut(known, tuple(fresh), left)


def _holds(row: GatheredRow, version: str) -> bool:
    return row.content is not None and row.version == version and row.state not in _TRIED_AGAIN


def _same_file(one: str, other: str) -> bool:
    """Reasons may name the file, so only one of the same name in another folder takes its row along."""
    return one.rsplit("/", 1)[-1] == other.rsplit("/", 1)[-1]


class Gathering:
    """Rows as they come together. Whatever stops `run`, `rows` and `report` tell what there is by then."""

    def __init__(self, sorted_out: SortedOut) -> None:
        self._sorted = sorted_out
        self._made: dict[str, GatheredRow] = {}

    def run(
        self,
        measurers: Measurers,
        keep: Callable[[GatheredRow], None],
        done: Callable[[float], None] = lambda share: None,
    ) -> None:
        """Measure what is fresh. keep: is given every row as it is made; done: the share of the logs done, 0 to 1."""
        for row in measurers.rows(self._sorted.fresh):
            keep(row)
            self._made[row.log] = row
            done(len(self._made) / len(self._sorted.fresh))

    @property
    def rows(self) -> list[GatheredRow]:
        """All rows, those of logs that are gone too."""
        return list({**self._sorted.gone, **self._sorted.known, **self._made}.values())

    def report(self, output: str, shut: tuple[str, ...] = ()) -> GatherReport:
        """Return what became of the logs that are there."""
        rows = sorted([*self._sorted.known.values(), *self._made.values()], key=lambda r: r.log)
        return GatherReport(
            output,
            dict(Counter(row.state for row in rows)),
            measured=len(self._made),
            known=len(self._sorted.known),
            gone=len(self._sorted.gone),
            shut=shut,
            left=len(self._sorted.fresh) - len(self._made),
            worst=tuple(row for row in rows if row.state != "measured")[:_NAMED],
        )
