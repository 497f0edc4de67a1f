"""A live view from its options: sources opened, wheels made, page or terminal shown, totals said at the end."""

from __future__ import annotations

import asyncio
import re
import sys
import tempfile
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from whorlpulse.actions.listening import Habits
from whorlpulse.actions.live_room import LiveRoom
from whorlpulse.actions.live_setup import WheelSetup
from whorlpulse.sources.events import Source
from whorlpulse.sources.files import shown
from whorlpulse.sources.logwriter import refuse_to_overwrite
from whorlpulse.sources.opening import open_source
from whorlpulse.sources.replay import ReplayedLog
from whorlpulse.views.live_end import closing_lines
from whorlpulse.views.live_words import live_says

from .early_ctrl_c import until_done
from .exits import InputError
from .live_rig import LiveRig, metres, refuse_bad_options
from .record import _seconds, _stop_by_signal, read_length
from .show import page, say

if TYPE_CHECKING:
    from whorlpulse.estimators.plan import YarnPlan
    from whorlpulse.estimators.slip_reference import Reference

    from .inputs import Given

_MOST_WHEELS: Final = 64


@dataclass(frozen=True)
class Wanted:
    """What was asked for on the command line. log: to be played, None where there are sources."""

    log: str | None
    sources: tuple[str, ...]
    names: tuple[str, ...]
    record: str | None
    given: Given
    plan: YarnPlan | None
    references: tuple[Reference, ...]
    pace_per_min: float | None
    speed: float
    port: int
    share: bool
    terminal: bool
    for_text: str | None


def run_live(wanted: Wanted) -> bool:
    """Run the live view to its end and say the totals; return whether any pulse came."""
    habits = Habits(for_s=_seconds(wanted.for_text) if wanted.for_text is not None else None)
    refuse_bad_options(wanted.given)
    names = _names(wanted)
    with ExitStack() as folder:
        paths = _paths(wanted, names, folder)
        room = until_done(_live(wanted, names, paths, habits))
        if room is None:
            return False
        for wheel in room.wheels.values():
            kept_at = shown(wheel.setup.path) if wheel.setup.kept else None
            say("\n".join(closing_lines(room.now(wheel.setup.id), kept_at, page().width)))
        return any(wheel.figures.rows_seen for wheel in room.wheels.values())


async def _live(wanted: Wanted, names: Sequence[str], paths: Sequence[Path], habits: Habits) -> LiveRoom | None:
    """Show it until it ends; None if it was stopped before the sources were found."""
    stop = asyncio.Event()
    _stop_by_signal(stop)
    opening = asyncio.ensure_future(_open(wanted))
    stopped = asyncio.ensure_future(stop.wait())
    await asyncio.wait([opening, stopped], return_when=asyncio.FIRST_COMPLETED)
    stopped.cancel()
    if not opening.done():
        opening.cancel()
        return None
    room = LiveRoom(_setups(wanted, opening.result(), names, paths), habits)
    if wanted.terminal:
        from .live_terminal import shown_in_terminal

        await shown_in_terminal(room, stop)
        return room
    from .live_server import served

    async with served(room, wanted.port, share=wanted.share) as links:
        _say_links(links.own, links.guests, share=wanted.share)
        await room.run(stop)
        if not stop.is_set() and habits.for_s is None:
            print(live_says("all-ended"), file=sys.stderr, flush=True)
            await stop.wait()
    return room


async def _open(wanted: Wanted) -> list[Source]:
    if wanted.log is not None:
        return [ReplayedLog(wanted.log, wanted.speed)]
    return [await open_source(text) for text in wanted.sources]


def _setups(wanted: Wanted, sources: Sequence[Source], names: Sequence[str], paths: Sequence[Path]) -> list[WheelSetup]:
    return [
        WheelSetup(
            id=str(i + 1),
            name=name,
            source=source,
            path=path,
            rig_of=LiveRig(wanted.given),
            read_m=metres,
            read_length=read_length,
            kept=wanted.record is not None,
            plan=wanted.plan,
            references=wanted.references,
            pace_per_min=wanted.pace_per_min,
        )
        for i, (source, name, path) in enumerate(zip(sources, names, paths, strict=True))
    ]


def _names(wanted: Wanted) -> list[str]:
    texts = [wanted.log] if wanted.log is not None else list(wanted.sources)
    if len(texts) > _MOST_WHEELS:
        raise InputError(f"--from is given {len(texts)} times: {_MOST_WHEELS} wheels at most are shown at once")
    if len(wanted.names) > len(texts):
        raise InputError(f"--name is given {len(wanted.names)} times, for {len(texts)} wheels: one for each at most")
    own = [Path(t).name if wanted.log is not None else f"wheel {i + 1}" for i, t in enumerate(texts)]
    given = [" ".join(name.split())[:60] for name in wanted.names]
    return [g or o for g, o in zip([*given, *[""] * (len(own) - len(given))], own, strict=True)]


def _paths(wanted: Wanted, names: Sequence[str], folder: ExitStack) -> list[Path]:
    """Where the logs go: named after their wheels where there are several; in a folder that vanishes if not kept."""
    if wanted.record is None:
        place = Path(folder.enter_context(tempfile.TemporaryDirectory(prefix="whorlpulse-")))
        return [place / f"{i + 1}.pulses" for i in range(len(names))]
    out = Path(wanted.record)
    paths = [out]
    if len(names) > 1:
        parts = [re.sub(r"[^\w-]+", "-", name).strip("-") or str(i + 1) for i, name in enumerate(names)]
        parts = [p if parts.count(p) == 1 else f"{p}-{i + 1}" for i, p in enumerate(parts)]
        paths = [out.with_name(f"{out.stem}-{part}{out.suffix}") for part in parts]
    for path in paths:
        refuse_to_overwrite(path)
    return paths


def _say_links(own: str, guests: str | None, *, share: bool) -> None:
    """Say where the page is; for the room, with the code that a phone can read."""
    print(live_says("open-page", link=own), flush=True)
    if guests is not None:
        from whorlpulse.live_page.share import qr_text

        print(live_says("for-the-room", link=guests), flush=True)
        try:
            qr_text(guests).encode(sys.stdout.encoding or "ascii")
        except UnicodeEncodeError:
            return
        print(qr_text(guests), flush=True)
    elif share:
        print(live_says("no-network"), flush=True)
    print(live_says("ctrl-c"), file=sys.stderr, flush=True)
