"""The page's own files, read once when the server starts.

A request names one of them or nothing: no path is ever made from what was asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files
from typing import Final, NamedTuple

_TYPES: Final = {
    "html": "text/html; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
}


class PageFile(NamedTuple):
    """A file's bytes and its media type."""

    content: bytes
    media_type: str


def page_files() -> Mapping[str, PageFile]:
    """Return the files of the page by name."""
    found = {}
    for file in files("whorlpulse.live_page").joinpath("static").iterdir():
        kind = _TYPES.get(file.name.rpartition(".")[2])
        if kind is not None:
            found[file.name] = PageFile(file.read_bytes(), kind)
    return found
