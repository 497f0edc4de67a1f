"""A Chromium for the tests, without a window and without a way out."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from tools import missing

_NAMES = ("chromium", "chromium-browser", "google-chrome")
_OPTIONS = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync"),
)


@contextmanager
def opened_browser() -> Iterator[Any]:
    """Give a running browser; the test ends by `missing` where there is none."""
    program = next((path for name in _NAMES if (path := shutil.which(name))), None)
    if program is None:
        missing("no Chromium is installed")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=list(_OPTIONS))
        try:
            yield browser
        finally:
            browser.close()
