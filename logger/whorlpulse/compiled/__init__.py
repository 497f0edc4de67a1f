"""The few loops that a compiler makes several times faster, where numba is installed (`pip install whorlpulse[fast]`).

Each is a plain Python function in this package; numba compiles it when the first large log asks for it and keeps the
machine code for the next time. Nothing depends on it: every loop stands beside a numpy way that gives the same numbers
to the last bit, and without numba, or where numba fails in any way, that one does the work.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from importlib import import_module
from typing import Any, Final

#: Lines, or pulses, from which on numba is loaded unasked: loading takes as long as is saved in some ten to fifteen
#: million lines.
LARGE: Final = 16_000_000
#: Once they are loaded, shorter arrays are worth a call, too.
_WORTH_A_CALL: Final = 512

Kernel = Callable[..., Any]

#: Where each loop stands, and for what it is compiled.
KERNELS: Final = {
    "read_lines": (
        "log_lines",
        "int64(uint8[::1], int64, int64, int64[::1], int64[::1], uint8[::1], int64[:, ::1])",
    ),
    "unwrap_ticks": ("clock", "int64(int64[::1], int64, int64, int64, float64, int64[::1], int64[::1])"),
    "pick_channel": ("clock", "boolean(uint8[::1], int64[::1], uint8, float64, int64[::1], float64[::1])"),
    "medians_of_nine": ("smooth", "void(float64[::1], float64[::1], float64[:, ::1])"),
    "curve": (
        "smooth",
        "void(float64[::1], float64[::1], int64, int64, int64, float64[::1], float64[::1], float64[:, ::1])",
    ),
}

_loaded: set[str] = set()


def kernel(name: str, size: int) -> Kernel | None:
    """Return the compiled loop for work on so many lines or pulses, None where the numpy way is to be taken."""
    if size >= LARGE or (_loaded and size >= _WORTH_A_CALL):
        return _compiled(name)
    return None


def load() -> bool:
    """Load all loops at once, for programs that measure many logs; False where numba is not to be had."""
    return all(_compiled(name) is not None for name in KERNELS)


@cache
def _compiled(name: str) -> Kernel | None:
    """Compile the loop or fetch it from numba's cache; None if anything goes wrong: speed must not break reading."""
    try:
        from numba import config, njit

        if getattr(config, "DISABLE_JIT", 0):  # numba's own switch: the plain functions would be far slower than numpy
            return None
        module, signature = KERNELS[name]
        plain = getattr(import_module(f"{__name__}.{module}"), name)
        # error_model: a division by zero gives what numpy gives, and is no branch in the loop
        found: Kernel = njit(signature, cache=True, nogil=True, error_model="numpy")(plain)
    except Exception:
        return None
    _loaded.add(name)
    return found
