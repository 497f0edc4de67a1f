"""The small answers of the server: a sentence as JSON, with its status."""

from __future__ import annotations

import msgspec
from starlette.responses import Response

from whorlpulse.findings.catalogue import sentence


class Answer(msgspec.Struct, frozen=True):
    """says: one plain sentence, or null when all was done as asked."""

    says: str | None


def answer(says: str | None, status: int = 200) -> Response:
    """Return the sentence as a JSON answer."""
    return Response(msgspec.json.encode(Answer(says)), status, media_type="application/json")


def refusal(status: int, key: str) -> Response:
    """Return the catalogue's sentence of this key as a JSON answer that refuses; its connection is not kept."""
    refused = answer(sentence(key), status)
    refused.headers["connection"] = "close"
    return refused
