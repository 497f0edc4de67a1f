"""How long a log this computer's memory can hold; a longer one is refused before it makes the computer stand still.

Measuring takes so much memory for each line, whatever the log says (docs/reliability.md has the measurement).
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from typing import Final

#: Memory that a line of a log with wheel and flyer takes in the greediest command, `report` (measured: up to 404,
#: and 165 in `ratio`, by tests/benchmarks/memory.py), rounded up.
BYTES_A_LINE: Final = 450
_LF: Final = 10


class TooLong(Exception):  # noqa: N818 - the log is well; only this computer is too small for it
    """A log has more lines than can be measured here; the message goes behind the log's name."""


def bounded(blocks: Iterable[bytes]) -> Iterator[bytes]:
    """Pass a log's blocks on; raises TooLong once there are more lines than fit into memory."""
    import numpy as np  # here, because not every command that looks at a file needs it

    most, lines = most_lines(), 0
    for block in blocks:
        lines += int(np.count_nonzero(np.frombuffer(block, np.uint8) == _LF))  # a quarter of the time of bytes.count
        if most is not None and lines > most:
            raise TooLong(
                f"has more than {most} lines, more than this computer's memory can measure at once: "
                "cut it into parts and measure each"
            )
        yield block


def most_lines() -> int | None:
    """Return how many lines fit into this computer's memory, or what of it the process may use; None: unknown."""
    memory = _memory_bytes()
    return None if memory is None else memory // BYTES_A_LINE


def _memory_bytes() -> int | None:
    if sys.platform == "win32":
        return None
    import resource

    try:
        memory = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (OSError, ValueError):
        return None
    allowed = resource.getrlimit(resource.RLIMIT_AS)[0]
    return memory if allowed == resource.RLIM_INFINITY else min(memory, allowed)
