"""`serial:auto`: which of the ports has a board on it that speaks pulse lines.

Ports are only listened to: a stranger's device on another port is sent nothing. That is enough, because a
board greets when its port is opened or sends a keep-alive once a second.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import Final

from whorlpulse.sources.events import SourceUnavailable
from whorlpulse.sources.ports import find_ports, permission_hint
from whorlpulse.sources.serial import BAUD, connect_port
from whorlpulse.wire import Decoder, Meta, Pulse

#: A board that opening the port restarts needs about two seconds until it greets (common practice, no source).
LISTEN_S: Final = 3.5


async def answering_port(paths: Sequence[str] | None = None, baud: int = BAUD, listen_s: float = LISTEN_S) -> str:
    """Return the one port on which pulse lines are heard; raises SourceUnavailable if it is none or several.

    paths: the ports to listen to, by default all of this computer that hang on USB, or all if none does.
    """
    if paths is None:
        found = find_ports()
        paths = [port.path for port in found if port.usb] or [port.path for port in found]
    if not paths:
        raise SourceUnavailable(f"no serial port is there: plug the board in; {permission_hint()}")
    heard = await asyncio.gather(*(_speaks(path, baud, listen_s) for path in paths))
    boards = [path for path, why_not in zip(paths, heard, strict=True) if why_not is None]
    if len(boards) == 1:
        return boards[0]
    if boards:
        raise SourceUnavailable(f"boards answer on {', '.join(boards)}: say which, for example serial:{boards[0]}")
    reasons = "; ".join(str(why_not) for why_not in heard)
    raise SourceUnavailable(f"no board answers: {reasons}. Is it plugged in, and is {baud} its rate?")


async def _speaks(path: str, baud: int, listen_s: float) -> str | None:
    """Listen to one port; None if pulse lines are heard there, else why it is not taken."""
    try:
        line = await connect_port(path, baud)
    except SourceUnavailable as closed:
        return str(closed)
    decoder = Decoder()
    try:
        async with asyncio.timeout(listen_s):
            while True:
                for message in decoder.feed((await line.receive()).data):
                    # a pulse line without checksum could be chance; a second one is none
                    if isinstance(message, Meta) and message.key == "format":
                        return None
                    if isinstance(message, Pulse) and decoder.tally.pulses + decoder.tally.keep_alives > 1:
                        return None
    except TimeoutError:
        return f"{path} said no pulse line within {listen_s:g} s"
    except SourceUnavailable as lost:
        return str(lost)
    finally:
        await line.close()
