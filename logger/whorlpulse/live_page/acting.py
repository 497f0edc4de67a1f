"""What the page asks to be done: read with care, checked, and handed to the room."""

from __future__ import annotations

import asyncio
import unicodedata
from typing import Annotated, Final, Literal

import msgspec
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response

from whorlpulse.live_page.answers import answer, refusal
from whorlpulse.live_page.room import Room

MOST_BYTES: Final = 4096
BODY_S: Final = 5.0
#: Acts: so many at once, then so many a second.
ACTS_AT_ONCE: Final = 12
ACTS_PER_S: Final = 3.0

#: One line as a pattern of JSON Schema: the same as _NO_TEXT says, for those who read the description.
_ONE_LINE: Final = {"pattern": r"^[^\u0000-\u001f\u007f-\u009f\u2028\u2029]*$"}
#: Kinds of characters that don't belong in one line of text: control, surrogate, line and paragraph ends.
_NO_TEXT: Final = frozenset({"Cc", "Cs", "Zl", "Zp"})


class Act(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """wheel: its id in the room. text: what the action needs, "" if nothing."""

    wheel: Annotated[str, msgspec.Meta(max_length=64, extra_json_schema=_ONE_LINE)]
    action: Literal["pause", "resume", "mark", "note", "length", "pace"]
    text: Annotated[str, msgspec.Meta(max_length=500, extra_json_schema=_ONE_LINE)] = ""


async def act(room: Room, request: Request) -> Response:
    """Do what the request's body asks; answer with the room's sentence if it could not (status 409)."""
    if request.headers.get("origin") is None:
        return refusal(403, "page-origin")
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
        return refusal(415, "page-not-json")
    try:
        async with asyncio.timeout(BODY_S):
            body = await _body(request)
    except (TimeoutError, ClientDisconnect):
        return refusal(408, "page-slow")
    if body is None:
        return refusal(413, "page-large")
    try:
        asked = msgspec.json.decode(body, type=Act)
    except (msgspec.DecodeError, UnicodeDecodeError):
        return refusal(400, "page-unreadable")
    if any(unicodedata.category(letter) in _NO_TEXT for letter in asked.wheel + asked.text):
        return refusal(400, "page-one-line")
    why_not = await room.act(asked.wheel, asked.action, asked.text.strip())
    return answer(why_not, 200 if why_not is None else 409)


async def _body(request: Request) -> bytes | None:
    """Return the body, or None as soon as it is known to be too large."""
    declared = request.headers.get("content-length", "0")
    if not declared.isdecimal() or int(declared) > MOST_BYTES:
        return None
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > MOST_BYTES:
            return None
    return body
