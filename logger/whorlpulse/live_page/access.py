"""Who may look and who may act: the names that the server answers to, and the keys in its two links.

Keys are made anew for each run and are good for this run only. The own link works on this computer only and may
act; the guests' link may only look, on as many devices as are in the room.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from dataclasses import dataclass, field
from ipaddress import ip_address
from typing import Final, Literal

Role = Literal["own", "guest"]

#: The names by which a computer calls itself.
LOOPBACK: Final = ("127.0.0.1", "localhost", "[::1]")
_KEY_BYTES: Final = 16  # 128 bits


def new_key() -> str:
    """Return a fresh key of 128 random bits, in letters that a link carries unchanged."""
    return secrets.token_urlsafe(_KEY_BYTES)


def is_loopback(address: str) -> bool:
    """Whether a peer's address says that it is on this computer."""
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return False


@dataclass(frozen=True)
class Access:
    """hosts: names and addresses in lower case that a request may call this server by.

    own_key: opens the page to the one who started the program. guest_key: opens it, to look only, to the room; None
    while it is not shared.
    """

    hosts: frozenset[str]
    own_key: str = field(repr=False)
    guest_key: str | None = field(default=None, repr=False)

    @staticmethod
    def alone() -> Access:
        """Return what a page for this computer only needs."""
        return Access(frozenset(LOOPBACK), new_key())

    @staticmethod
    def shared(hosts: Iterable[str]) -> Access:
        """Return what a page for the room needs. hosts: this computer's addresses and names in the room's network."""
        return Access(frozenset(LOOPBACK) | {host.lower() for host in hosts}, new_key(), new_key())

    def own_link(self, port: int) -> str:
        """Return the link for the one who started the program."""
        return f"http://127.0.0.1:{port}/?key={self.own_key}"

    def guest_link(self, host: str, port: int) -> str | None:
        """Return the link for the room, None while it is not shared. host: one of `hosts`."""
        return None if self.guest_key is None else f"http://{host}:{port}/?key={self.guest_key}"
