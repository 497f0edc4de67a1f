"""A served room of one wheel, visitors to it, and a browser."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from pretend_room import PretendRoom, wheel_room
from serve_room import CHROMIUM_ARGS, Served, serving

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tools import require_tool


@pytest.fixture
def room() -> PretendRoom:
    return wheel_room("By the window")


@pytest.fixture
def served(room: PretendRoom) -> Iterator[Served]:
    with serving(room) as running:
        yield running


@pytest.fixture
def visit(request: pytest.FixtureRequest) -> Iterator[Callable[..., httpx.Client]]:
    """Return a function that comes by a link ("own", "guest", or None for no link) and returns the visitor."""
    served = request.getfixturevalue("lasting" if "lasting" in request.fixturenames else "served")
    visitors = []

    def come(by: str | None) -> httpx.Client:
        visitor = httpx.Client(base_url=served.origin, timeout=5.0)
        visitors.append(visitor)
        if by is not None:
            answer = visitor.get(served.own_link if by == "own" else served.guest_link)
            assert answer.status_code == 200
        return visitor

    yield come
    for visitor in visitors:
        visitor.close()


@pytest.fixture(scope="module")
def playwright() -> Iterator[Any]:
    """What drives the browsers; not for longer than a module, because no other event loop runs beside its own."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driving:
        yield driving


@pytest.fixture(scope="module")
def browser(playwright: Any) -> Iterator[Any]:
    """A real browser without a window."""
    running = playwright.chromium.launch(executable_path=require_tool("chromium"), args=list(CHROMIUM_ARGS))
    yield running
    running.close()
