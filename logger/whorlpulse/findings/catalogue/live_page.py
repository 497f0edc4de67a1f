"""Sentences of the live page's server; the page's own words stand in its page.html."""

from __future__ import annotations

from typing import Final

LIVE_PAGE: Final = {
    "page-host": "this address is not one of this server's: open the link that the program printed",
    "page-origin": "this request comes from another page: open the link that the program printed",
    "page-no-key": "this needs the link of this run: open the one that the program printed, or scan its code again",
    "page-only-look": "guests look on; only the computer on which the program runs can do this",
    "page-too-often": "too often: wait a few seconds",
    "page-full": "as many look on as this program serves; try again in a while",
    "page-not-json": "this is no JSON: say content-type application/json",
    "page-slow": "the request did not come through in time: send it again",
    "page-large": "this is too long: 4096 bytes at most",
    "page-unreadable": "this can't be read: wheel, action and text are needed, as /api.json describes them",
    "page-one-line": "this must be one line of text, without control characters",
    "page-nothing": "there is nothing here: open the link that the program printed",
    "page-failed": "the program could not answer this; its recording is not touched by that",
}
