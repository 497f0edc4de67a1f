"""Run the numpy way or the compiled one, whatever the size: for tests that hold both to the same."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec

import pytest

from whorlpulse import compiled

WAYS = ("numpy", "compiled")


@contextmanager
def taken(way: str) -> Iterator[None]:
    """Take this way for arrays of any size; skips where numba is not installed."""
    if way == "compiled" and find_spec("numba") is None:
        pytest.skip("numba is not installed: nothing is compiled")
    with pytest.MonkeyPatch.context() as patch:
        if way == "compiled":
            patch.setattr(compiled, "LARGE", 0)
            assert all(compiled.kernel(name, 0) for name in compiled.KERNELS), (
                "numba is there, but a loop is not compiled"
            )
        else:
            patch.setattr(compiled, "LARGE", 1 << 62)
            patch.setattr(compiled, "_loaded", set())
        yield
