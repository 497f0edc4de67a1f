"""The server's application: which path answers what, and to whom."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Final

import msgspec
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import Receive, Scope, Send

from whorlpulse.live_page.access import Access, Role
from whorlpulse.live_page.acting import ACTS_AT_ONCE, ACTS_PER_S, act
from whorlpulse.live_page.answers import refusal
from whorlpulse.live_page.description import description
from whorlpulse.live_page.door import Door
from whorlpulse.live_page.files import PageFile, page_files
from whorlpulse.live_page.guard import Guard
from whorlpulse.live_page.rate import Rate
from whorlpulse.live_page.room import Room
from whorlpulse.live_page.share import qr_svg
from whorlpulse.live_page.stream import Changes

_ROLES: Final = ("own", "guest")


def make_app(
    room: Room, access: Access, *, share_link: str | None = None, clock: Callable[[], float] = time.monotonic
) -> Starlette:
    """Return the application that shows this room.

    share_link: the guests' link, for the host's page to show. clock: seconds that never go backwards, for rates.
    """
    desk = _Desk(room, access, share_link, clock)
    routes = [
        Route("/", desk.page, methods=["GET"]),
        Route("/static/{name}", desk.file, methods=["GET"]),
        Route("/api.json", desk.api, methods=["GET"]),
        Route("/state", desk.state, methods=["GET"]),
        Route("/changes", _Stream(desk)),
        Route("/act", desk.act, methods=["POST"]),
        Route("/share", desk.share, methods=["GET"]),
        Route("/share.svg", desk.share_picture, methods=["GET"]),
    ]
    app = Starlette(
        routes=routes,
        middleware=[Middleware(Guard, access=access)],
        exception_handlers={HTTPException: _no_such, Exception: _failed},
    )
    app.router.redirect_slashes = False
    return app


class _Desk:
    """Answers the requests of one room."""

    def __init__(self, room: Room, access: Access, share_link: str | None, clock: Callable[[], float]) -> None:
        self.room = room
        self.changes = Changes(room)
        self._door = Door(access, clock)
        self._acts = Rate(ACTS_AT_ONCE, ACTS_PER_S, clock)
        self._share_link = share_link
        self._files = page_files()
        self._api = msgspec.json.encode(description())

    async def page(self, request: Request) -> Response:
        """Give the page to those who may see it; a right key in the link becomes a cookie.

        The page is given at once and not by sending the browser on: a browser that came by a link from another site
        would keep a SameSite=Strict cookie to itself on the way.
        """
        key = request.query_params.get("key")
        found = self._door.by_key(key, _peer(request)) if key is not None else self._who(request)
        if found not in _ROLES:
            return _of(self._files["door.html"], 429 if found == "too-often" else 403)
        answer = _of(self._files["page.html"])
        if key is not None:
            role: Role = "own" if found == "own" else "guest"
            answer.set_cookie(_cookie_name(request), self._door.cookie(role), httponly=True, samesite="strict")
        return answer

    async def file(self, request: Request) -> Response:
        """Give one of the page's own files."""
        found = self._files.get(request.path_params["name"])
        return refusal(404, "page-nothing") if found is None else _of(found)

    async def api(self, request: Request) -> Response:
        """Give the description of this interface."""
        return Response(self._api, media_type="application/json")

    async def state(self, request: Request) -> Response:
        """Give the whole room as it is now."""
        return self.closed_to(request) or Response(self.room.whole(), media_type="application/json")

    async def act(self, request: Request) -> Response:
        """Do what the one who started the program asks."""
        closed = self.closed_to(request, only_own=True)
        if closed is not None:
            return closed
        if not self._acts.take(_peer(request)):
            return refusal(429, "page-too-often")
        return await act(self.room, request)

    async def share(self, request: Request) -> Response:
        """Give the guests' link to the one who may hand it on; null while the page is not shared."""
        link = msgspec.json.encode({"link": self._share_link})
        return self.closed_to(request, only_own=True) or Response(link, media_type="application/json")

    async def share_picture(self, request: Request) -> Response:
        """Give the guests' link as a QR code."""
        closed = self.closed_to(request, only_own=True)
        if closed is not None:
            return closed
        if self._share_link is None:
            return refusal(404, "page-nothing")
        return Response(qr_svg(self._share_link), media_type="image/svg+xml")

    def may_act(self, request: Request) -> bool:
        """Whether the request comes from the one who started the program."""
        return self._who(request) == "own"

    def closed_to(self, request: Request, *, only_own: bool = False) -> Response | None:
        """Return the refusal, None if the request may go on."""
        found = self._who(request)
        if found == "own" or (found == "guest" and not only_own):
            return None
        if found == "too-often":
            return refusal(429, "page-too-often")
        return refusal(403, "page-only-look" if found == "guest" else "page-no-key")

    def _who(self, request: Request) -> str:
        return self._door.by_cookie(request.cookies.get(_cookie_name(request)), _peer(request))


class _Stream:
    """The changes, as an application of its own: it writes to the connection while it lasts."""

    def __init__(self, desk: _Desk) -> None:
        self._desk = desk

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        request = Request(scope, receive)
        if scope["method"] != "GET":
            await refusal(405, "page-nothing")(scope, receive, send)
            return
        closed = self._desk.closed_to(request)
        if closed is not None:
            await closed(scope, receive, send)
            return
        await self._desk.changes(scope, receive, send, may_act=self._desk.may_act(request))


def _of(file: PageFile, status: int = 200) -> Response:
    return Response(file.content, status, media_type=file.media_type)


def _peer(request: Request) -> str:
    return request.client.host if request.client else ""


def _cookie_name(request: Request) -> str:
    """Cookies of one name are shared by all servers of a computer, whatever their port: so the port is in the name."""
    return f"wheelroom-{(request.scope.get('server') or ('', 0))[1]}"


async def _no_such(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 404
    headers = error.headers if isinstance(error, HTTPException) else None
    answer = refusal(status, "page-nothing")
    answer.headers.update(headers or {})
    return answer


async def _failed(request: Request, error: Exception) -> Response:
    return refusal(500, "page-failed")
