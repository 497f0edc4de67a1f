"""What every request must pass before anything looks at it, and the headers that every answer carries.

A page of a stranger can send requests to this computer from the browser that shows it, and its name can be pointed
at this computer's address (DNS rebinding). So the Host must be a name of ours, an Origin must be ourselves, and what
a browser says of a request's origin (Fetch Metadata, W3C) must not be another site. Only the page itself may be come
to by a link from elsewhere.
"""

from __future__ import annotations

import re
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from whorlpulse.live_page.access import Access
from whorlpulse.live_page.answers import refusal

_HOST: Final = re.compile(r"(\[[0-9a-f:.]{2,45}\]|[a-z0-9._-]{1,253})(?::[0-9]{1,5})?")

#: Nothing from elsewhere, no script or style but our files, no frame around the page, no text made into markup.
POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "connect-src 'self'",
        "img-src 'self' data:",
        "base-uri 'none'",
        "frame-ancestors 'none'",
        "form-action 'none'",
        "require-trusted-types-for 'script'",
        "trusted-types 'none'",
    )
)
HEADERS: Final = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(), usb=(), serial=()",
    "cache-control": "no-store",
}


class Guard:
    """ASGI application around another: refuses strangers' requests, and dresses the answers."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self._app, self._access = app, access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or refuse it."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
            await send(message)

        why = self._why_not(scope)
        answer = self._app if why is None else refusal(421 if why == "page-host" else 403, why)
        await answer(scope, receive, dressed)

    def _why_not(self, scope: Scope) -> str | None:
        """Return the key of the sentence that refuses the request, None if it may pass."""
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        host = _HOST.fullmatch(hosts[0].lower()) if len(hosts) == 1 else None
        if host is None or host[1] not in self._access.hosts:
            return "page-host"
        origins = headers.getlist("origin")
        if any(origin.lower() != f"http://{hosts[0].lower()}" for origin in origins) or len(origins) > 1:
            return "page-origin"
        if headers.get("sec-fetch-site", "none") not in ("same-origin", "none") and not _comes_by_link(scope, headers):
            return "page-origin"
        return None


def _comes_by_link(scope: Scope, headers: Headers) -> bool:
    """Whether somebody followed a link to the page itself, as the whole of a window."""
    return (
        scope["method"] == "GET"
        and scope["path"] == "/"
        and headers.get("sec-fetch-mode") == "navigate"
        and headers.get("sec-fetch-dest") == "document"
    )
