"""What a compiled loop is put together from; importing a module with such parts needs numba."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., object])


def part(function: F) -> F:
    """Make a function one that compiled loops can call."""
    return cast(F, njit(error_model="numpy")(function))
