"""The door: a key in a link is exchanged for a cookie, and a cookie tells who asks.

The cookie says its role, a random number, and a keyed hash of both (HMAC-SHA-256, RFC 2104) under a secret of this
run: nothing has to be remembered for a guest, and nobody can write one. All comparing is in constant time.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable
from hashlib import sha256
from typing import Final, Literal

from whorlpulse.live_page.access import Access, Role, is_loopback
from whorlpulse.live_page.rate import Rate

#: Wrong keys and cookies from one peer: so many at once, then one in so many seconds.
WRONG_AT_ONCE: Final = 20
WRONG_EVERY_S: Final = 3.0

#: What comes of a key or cookie: a role, or why there is none.
Refusal = Literal["none", "wrong", "too-often"]


class Door:
    """Checks keys and cookies of one run."""

    def __init__(self, access: Access, clock: Callable[[], float]) -> None:
        """clock: seconds that never go backwards; for the rate of wrong keys."""
        self._access = access
        self._secret = secrets.token_bytes(32)
        self._wrong = Rate(WRONG_AT_ONCE, 1.0 / WRONG_EVERY_S, clock)

    def by_key(self, key: str, peer: str) -> Role | Refusal:
        """Return the role that a link's key gives to this peer."""
        if self._wrong.left(peer) < 1.0:
            return "too-often"
        given = key.encode("utf-8", "replace")
        own = hmac.compare_digest(given, self._access.own_key.encode())
        guest = hmac.compare_digest(given, (self._access.guest_key or self._access.own_key).encode())
        if own and is_loopback(peer):
            return "own"
        if guest and self._access.guest_key is not None:
            return "guest"
        self._wrong.take(peer)
        return "wrong"

    def by_cookie(self, value: str | None, peer: str) -> Role | Refusal:
        """Return the role that a cookie proves."""
        if not value:
            return "none"
        if self._wrong.left(peer) < 1.0:
            return "too-often"
        said, _, proof = value.rpartition(".")
        right = hmac.compare_digest(proof.encode("utf-8", "replace"), self._proof(said).encode())
        role = said.partition(".")[0]
        if right and role == "guest":
            return "guest"
        if right and role == "own" and is_loopback(peer):
            return "own"
        self._wrong.take(peer)
        return "wrong"

    def cookie(self, role: Role) -> str:
        """Return a new cookie's value for this role."""
        said = f"{role}.{secrets.token_urlsafe(16)}"
        return f"{said}.{self._proof(said)}"

    def _proof(self, said: str) -> str:
        return hmac.new(self._secret, said.encode("utf-8", "replace"), sha256).hexdigest()
