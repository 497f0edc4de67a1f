"""The server's interface described in OpenAPI 3.1, for those who want the figures in a page of their own."""

from __future__ import annotations

from typing import Any, Final

import msgspec

from whorlpulse import __version__
from whorlpulse.live_page.acting import Act
from whorlpulse.live_page.answers import Answer
from whorlpulse.live_page.room_schema import FIGURE, Schema, room_schema

_REFUSALS: Final = {
    400: "The body is not what this takes.",
    403: "Not with this cookie, or not from this page.",
    404: "There is nothing here.",
    405: "Not by this method.",
    408: "The body did not come through in time.",
    409: "The wheel can't do this now; says tells why.",
    413: "The body is too large.",
    415: "The body is not JSON.",
    421: "The Host header is no name of this server.",
    429: "Too often, or too many wrong keys.",
    503: "As many look on as are served.",
}
_ANYWHERE: Final = (403, 421, 429)


def _json(schema: Schema) -> Schema:
    return {"application/json": {"schema": schema}}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}


def _answers(what: str, content: Schema, *refusals: int) -> Schema:
    refused = {
        str(status): {"description": _REFUSALS[status], "content": _json(_ref("Answer"))}
        for status in (*refusals, *_ANYWHERE)
    }
    return {"200": {"description": what, "content": content}, **refused}


def _get(summary: str, what: str, content: Schema, *refusals: int) -> Schema:
    return {"get": {"summary": summary, "responses": _answers(what, content, *refusals)}}


def description() -> dict[str, Any]:
    """Return the OpenAPI document."""
    _, schemas = msgspec.json.schema_components([Act, Answer], ref_template="#/components/schemas/{name}")
    schemas |= {"Figure": FIGURE, "Room": room_schema(whole=True), "Changes": room_schema(whole=False)}
    events = (
        "Events named message: JSON of the schema Changes. Named you: what the viewer may do. Named alive: no news."
    )
    paths: Schema = {
        "/state": _get("The room as it is now", "All wheels.", _json(_ref("Room"))),
        "/changes": _get("The room as it changes", events, {"text/event-stream": {"schema": {"type": "string"}}}, 503),
        "/share": _get(
            "The guests' link", "The link, null while not shared.",
            _json({"type": "object", "properties": {"link": {"type": ["string", "null"]}}, "required": ["link"]}),
        ),
        "/share.svg": _get("The link as QR code", "A picture.", {"image/svg+xml": {"schema": {"type": "string"}}}, 404),
        "/act": {
            "post": {
                "summary": "Ask something of a wheel; for the one who started the program",
                "description": "Needs an Origin header that is this server's.",
                "requestBody": {"required": True, "content": _json(_ref("Act"))},
                "responses": _answers("Done.", _json(_ref("Answer")), 400, 408, 409, 413, 415),
            }
        },
    }  # fmt: skip
    cookie = {"type": "apiKey", "in": "cookie", "name": "wheelroom-PORT"}
    return {
        "openapi": "3.1.0",
        "info": {"title": "whorlpulse live page", "version": __version__},
        "paths": paths,
        "components": {"schemas": schemas, "securitySchemes": {"link": cookie}},
        "security": [{"link": []}],
    }
