"""Logs measured by a Dask cluster: the same function, the bytes sent along, so that workers need no common disk."""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib import import_module
from typing import Any, Final

from whorlpulse import __version__
from whorlpulse.actions.gather_limit import USUAL_S, row_within
from whorlpulse.findings.catalogue.gather import ERRORS
from whorlpulse.findings.gathered import GatheredRow, State
from whorlpulse.sources.files import SourceError
from whorlpulse.sources.log_folder import LogFiles, LogPlace, files_of

#: Logs given out at a time for each thread of the cluster; so much of the folder is in memory at once.
_AHEAD: Final = 2
_PATIENCE: Final = "10s"


@dataclass(frozen=True)
class Cluster:
    """Measures on the workers of the scheduler at `address`. measure: from a log's bytes to its row.

    unmeasured: the row of a log that never came to be measured, with the reason. late: of one that took longer than
    limit_s. A worker's thread has no end but its own, so work that doesn't return to Python goes on there.
    """

    address: str
    measure: Callable[[LogFiles], GatheredRow]
    unmeasured: Callable[[LogPlace, State, str], GatheredRow]
    late: Callable[[LogPlace], GatheredRow]
    limit_s: float = USUAL_S

    def rows(self, places: Sequence[LogPlace]) -> Iterator[GatheredRow]:
        """Yield the row of every place as it is ready; SourceError when the cluster can't be used."""
        if not places:
            return
        distributed = _distributed()
        with self._client(distributed) as client:
            threads = self._checked(client)
            yield from self._measured(distributed, client, deque(places), _AHEAD * threads)

    def _measured(self, distributed: Any, client: Any, waiting: deque[LogPlace], most: int) -> Iterator[GatheredRow]:
        flying: dict[str, LogPlace] = {}
        ready = distributed.as_completed(loop=client.loop)
        while waiting or flying:
            while waiting and len(flying) < most:
                place = waiting.popleft()
                try:
                    # not known to be pure: a result of an older version must not be taken for this one's
                    future = client.submit(row_within, self.limit_s, self.measure, files_of(place), pure=False)
                except SourceError as fault:
                    yield self.unmeasured(place, "unreadable", str(fault))
                    continue
                flying[future.key] = place
                ready.add(future)
            if flying:
                future = next(ready)
                yield self._row(future, flying.pop(future.key))

    def _row(self, future: Any, place: LogPlace) -> GatheredRow:
        try:
            row: GatheredRow | None = future.result()
        except Exception as fault:
            if future.status != "error":  # nothing is wrong with the log: its result could not be fetched
                raise SourceError(ERRORS["cluster-lost"].format(address=self.address)) from None
            # a worker that dies again and again on one log, or can't hold it
            said = ERRORS["fault"].format(fault=f"{type(fault).__name__}: {str(fault)[:200]}")
            return self.unmeasured(place, "failed", said)
        finally:
            future.release()
        return self.late(place) if row is None else row

    def _client(self, distributed: Any) -> Any:
        try:
            return distributed.Client(self.address, timeout=_PATIENCE, set_as_default=False)
        except (OSError, ValueError) as fault:  # TimeoutError is an OSError
            why = " ".join((str(fault) or type(fault).__name__).split())[:120]
            raise SourceError(ERRORS["no-cluster"].format(address=self.address, why=why)) from None

    def _checked(self, client: Any) -> int:
        """Return how many threads the cluster has, all of them with this version of the program."""
        threads = int(sum(client.nthreads().values()))
        if threads == 0:
            raise SourceError(ERRORS["no-workers"].format(address=self.address))
        try:
            versions = set(client.run(program_version).values())
        except Exception as fault:  # Dask hands on what a worker says of a missing module as one kind or another
            if "No module named" not in str(fault):
                raise
            raise SourceError(ERRORS["without-us"].format(address=self.address, ours=__version__)) from None
        for theirs in versions - {__version__}:
            raise SourceError(
                ERRORS["other-version"].format(address=self.address, theirs=str(theirs)[:40], ours=__version__)
            )
        return threads


def program_version() -> str:
    """Return the version of the program, where this is run."""
    return __version__


def _distributed() -> Any:
    try:
        found = import_module("distributed")
    except ImportError:
        raise SourceError(ERRORS["extra"].format(what="--on", package="distributed", extra="dask")) from None
    # what it would tell of a cluster that is lost, this program says in a line of its own
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    return found
