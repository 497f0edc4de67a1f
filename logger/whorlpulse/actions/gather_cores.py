"""Logs measured on this machine's cores, each by a process of its own pool, whatever one of them does."""

from __future__ import annotations

import multiprocessing
import os
import signal
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from threading import Thread
from typing import Any, Final

from whorlpulse.actions.gather_limit import USUAL_S, row_within_or_end
from whorlpulse.findings.gathered import GatheredRow
from whorlpulse.sources.log_folder import LogPlace

#: Logs given out at a time for each process: none waits for work, and little is lost when a process dies.
_AHEAD: Final = 2


@dataclass(frozen=True)
class Cores:
    """Measures with so many processes. measure: from a place to its row, a function that a new process can import.

    lost: the row of a log whose process died. late: of one that took longer than limit_s.
    """

    measure: Callable[[LogPlace], GatheredRow]
    lost: Callable[[LogPlace], GatheredRow]
    late: Callable[[LogPlace], GatheredRow]
    workers: int
    limit_s: float = USUAL_S

    def rows(self, places: Sequence[LogPlace]) -> Iterator[GatheredRow]:
        """Yield the row of every place as it is ready.

        When a process dies, the pool dies with it, and it is not known on which log: those that were given out are
        then measured one by one, so that the one at fault is known and only that one is lost.
        """
        waiting, suspects = deque(places), deque[LogPlace]()
        while waiting or suspects:
            if suspects:
                yield from self._alone(suspects)
            else:
                yield from self._together(waiting, suspects)

    def _together(self, waiting: deque[LogPlace], suspects: deque[LogPlace]) -> Iterator[GatheredRow]:
        flying: dict[Future[GatheredRow | None], LogPlace] = {}
        with _pool(min(self.workers, len(waiting))) as pool:
            try:
                while waiting or flying:
                    while waiting and len(flying) < _AHEAD * self.workers:
                        future = pool.submit(row_within_or_end, self.limit_s, self.measure, waiting[0])
                        flying[future] = waiting.popleft()
                    for future in wait(flying, return_when=FIRST_COMPLETED).done:
                        row = future.result()
                        place = flying.pop(future)
                        yield self.late(place) if row is None else row
            except BrokenProcessPool:
                suspects.extend(flying.values())
            finally:
                pool.shutdown(wait=False, cancel_futures=True)

    def _alone(self, suspects: deque[LogPlace]) -> Iterator[GatheredRow]:
        with _pool(1) as pool:
            while suspects:
                place = suspects.popleft()
                began_s = time.monotonic()
                try:
                    row = pool.submit(row_within_or_end, self.limit_s, self.measure, place).result()
                except BrokenProcessPool:
                    yield self.late(place) if time.monotonic() - began_s > self.limit_s else self.lost(place)
                    return
                yield self.late(place) if row is None else row


def all_cores() -> int:
    """Return how many processes this machine has room for."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _pool(workers: int) -> ProcessPoolExecutor:
    # never a plain fork: the progress bar's thread and the libraries' own may hold locks that the copy waits for
    method = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    context: Any = multiprocessing.get_context(method)
    return ProcessPoolExecutor(workers, mp_context=context, initializer=_begin)


def _begin() -> None:
    """Make a worker end with what began it: at once on Ctrl-C, without a word, and when its parent is gone.

    Its arithmetic is to stay on its own core, as in a cluster's worker: sums that are shared out among threads end in
    other last digits, and the cores have work already. numpy reads this when it is loaded, which comes after.
    """
    for libraries in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(libraries, "1")
    signal.signal(signal.SIGINT, lambda number, frame: os._exit(130))
    parent = multiprocessing.parent_process()
    if parent is not None:
        Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: Any) -> None:
    parent.join()
    os._exit(1)
