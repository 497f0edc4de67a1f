"""The room of wheels as the page's server sees it: what is asked of whoever measures."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Final, Protocol

#: What can be asked of a wheel from the page.
ACTIONS: Final = ("pause", "resume", "mark", "note", "length", "pace")


class Room(Protocol):
    """Wheels that are measured now. Documents are JSON texts of the shape that `description.py` gives."""

    def whole(self) -> str:
        """Return the whole room as it is now."""
        ...

    def changes(self) -> AsyncIterator[str]:
        """Return first the whole room, then only the wheels that changed, until the room ends.

        The newest state only: a slow reader skips states and never holds anything up.
        """
        ...

    async def act(self, wheel: str, action: str, text: str) -> str | None:
        """Do one of ACTIONS to the wheel of that id; return None, or one plain sentence why it was not done.

        text: the words of a mark or note, a drawn length with its unit, a pace in turns a minute; one line, without
        control characters.
        """
        ...
