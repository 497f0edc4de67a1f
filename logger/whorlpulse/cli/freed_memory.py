"""Memory that the program gives back stays with it, for the commands that measure long logs.

New memory is dear: the system clears each page of it, and glibc gives the arrays of one step back only to ask for as
many in the next. Measured in docs/decisions/freed-memory.md. It is a setting of the whole process, so the command line
makes it and the package's functions never do.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import Final

#: Commands whose time is that of arrays as long as the log; not those that run for hours.
_MEASURING: Final = frozenset({"ratio", "slip", "twist", "cadence", "check", "compare", "report", "survey"})
#: glibc's mallopt(3): what may lie free at the heap's end, and from which size on an array is mapped by itself. More
#: than the second it doesn't take.
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
_KEPT_BYTES, _MAPPED_BYTES = 256 << 20, 32 << 20


def keep_freed_memory(words: Sequence[str]) -> bool:
    """Make the setting if the command line `words` measures and this is Linux with glibc; whether it was made."""
    if not words or words[0] not in _MEASURING or not {"--help", "-h"}.isdisjoint(words):
        return False
    if not sys.platform.startswith("linux") or not _is_glibc():
        return False
    import ctypes  # numpy loads it too, so it costs nothing here

    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (OSError, AttributeError):
        return False
    return bool(mallopt(_TRIM_THRESHOLD, _KEPT_BYTES) and mallopt(_MMAP_THRESHOLD, _MAPPED_BYTES))


def _is_glibc() -> bool:
    try:
        return (os.confstr("CS_GNU_LIBC_VERSION") or "").startswith("glibc")
    except (ValueError, OSError):  # another C library doesn't know the name
        return False
