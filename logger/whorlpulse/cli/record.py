"""`whorlpulse record`: a board, a sensor or a simulated board to a pulse log."""

from __future__ import annotations

import re
import sys
from typing import TYPE_CHECKING, Annotated, Final

import typer

from .exits import CANNOT_SAY, InputError, complain
from .show import say

if TYPE_CHECKING:
    import asyncio

    from whorlpulse.actions.record import Habits
    from whorlpulse.sources.logwriter import LogStopped
    from whorlpulse.views.recording_line import Recording

    from .watching import Watcher

_SECONDS: Final = {"": 1.0, "s": 1.0, "min": 60.0, "h": 3600.0}
_LONGEST_S: Final = 7 * 86400.0
#: A length as a `length` line has it: a number and a unit.
_WRITTEN: Final = re.compile(r"([0-9]+(?:\.[0-9]*)?|\.[0-9]+)\s*([a-zA-Z]+)")


def record(
    out: Annotated[str, typer.Argument(metavar="OUT", help="The log to write, for example wheel.pulses.")],
    source: Annotated[
        str,
        typer.Option(
            "--from",
            metavar="SOURCE",
            help="serial:PORT[@BAUD], serial:auto, ble:NAME, csc:NAME, - or sim:SCENARIO[@SPEED]; "
            "whorlpulse find lists what is there.",
        ),
    ],
    for_text: Annotated[
        str | None, typer.Option("--for", metavar="TIME", help="Stop by itself, for example after '60 s' or '20 min'.")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace an older log of that name.")] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Show nothing while recording.")] = False,
) -> None:
    """Record pulses to a log, exactly as they come.

    While it runs: l notes a length drawn in, m a mark, q (or Ctrl-C) stops. A pulled plug is waited for. The log
    is safe on the disk to within a second, whatever happens.
    """
    from whorlpulse.actions.record import Habits
    from whorlpulse.sources.logwriter import LogStopped, refuse_to_overwrite

    habits = Habits(for_s=_seconds(for_text) if for_text is not None else None)
    refuse_to_overwrite(out, replace=replace)
    from .early_ctrl_c import until_done
    from .watching import Watcher

    watcher = Watcher(quiet=quiet)
    stopped: LogStopped | None = None
    end: Recording | None = None
    try:
        end = until_done(_record(out, source, habits, replace, watcher))
    except LogStopped as full:
        stopped = full
    finally:
        watcher.close()
    _say_end(out, end, stopped)


async def _record(out: str, source_text: str, habits: Habits, replace: bool, watcher: Watcher) -> Recording | None:
    """Open the source and record it; None if it was stopped before the source was found."""
    import asyncio

    from whorlpulse.actions.record import Recorder
    from whorlpulse.sources.keyboard import keys_can_be_heard, single_keys
    from whorlpulse.sources.logwriter import LogWriter
    from whorlpulse.sources.opening import open_source
    from whorlpulse.views.recording_line import KEYS_HELP

    stop = asyncio.Event()
    _stop_by_signal(stop, once=True)
    opening = asyncio.ensure_future(open_source(source_text))
    stopped = asyncio.ensure_future(stop.wait())
    await asyncio.wait([opening, stopped], return_when=asyncio.FIRST_COMPLETED)
    stopped.cancel()
    if not opening.done():
        opening.cancel()
        return None
    recorder = Recorder(opening.result(), lambda: LogWriter(out, replace=replace), watcher.show_or_none, habits)
    if source_text == "-" or not keys_can_be_heard():
        return await recorder.run(stop)
    with single_keys() as keys:
        watcher.say(KEYS_HELP)
        return await recorder.run(stop, keys, read_length)


def read_length(text: str) -> tuple[str, str]:
    """Return value and unit of a typed length, as a `length` line has them; ValueError says what is not clear.

    A number keeps its digits, because the last one tells how exactly it was read; a fraction becomes metres.
    """
    from whorlpulse import units

    metres = units.length(text, allow_zero=True)
    found = _WRITTEN.fullmatch(text.strip())
    if found:
        return found[1], found[2]
    if re.search(r"±|\+/?-", text):
        raise units.UnitsError("write the length without ±, for example 0.62 m")
    return f"{metres.m:.6f}", "m"


def _seconds(text: str) -> float:
    """Return the seconds that a text like `60 s`, `20 min` or `1.5 h` states."""
    found = re.fullmatch(r"\s*([0-9]+(?:\.[0-9]+)?)\s*(s|min|h|)\s*", text)
    seconds = float(found[1]) * _SECONDS[found[2]] if found else 0.0
    if not 0 < seconds <= _LONGEST_S:
        raise InputError(f"--for {text!r} is no time: write for example --for '60 s', '20 min' or '1.5 h'")
    return seconds


def _stop_by_signal(stop: asyncio.Event, *, once: bool = False) -> None:
    """Let Ctrl-C, a request to end and a closed terminal stop the recording in good order.

    once: the first of them counts, and the end that it brings is not interrupted by more of them.
    """
    import asyncio
    import signal

    loop = asyncio.get_running_loop()
    numbers = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]

    def asked() -> None:
        stop.set()
        for number in numbers if once else []:
            loop.remove_signal_handler(number)
            signal.signal(number, signal.SIG_IGN)

    for number in numbers:
        try:
            loop.add_signal_handler(number, asked)
        except NotImplementedError:  # Windows
            signal.signal(number, lambda *_: loop.call_soon_threadsafe(stop.set))


def _say_end(out: str, end: Recording | None, stopped: LogStopped | None) -> None:
    """Say what was recorded, or why there is nothing; ends with exit code 1 where there is no pulse or no room."""
    from whorlpulse.sources.files import shown
    from whorlpulse.views.recording_line import closing_lines, nothing_came

    if stopped is not None:
        complain(str(stopped))
        raise typer.Exit(CANNOT_SAY)
    if end is None:
        complain("stopped before the source was found: nothing was recorded")
        raise typer.Exit(CANNOT_SAY)
    if not end.heard:
        complain(f"{shown(out)}: {nothing_came(end)}")
        raise typer.Exit(CANNOT_SAY)
    try:
        say("\n".join(closing_lines(end, shown(out))))
        sys.stdout.flush()
    except OSError:  # whoever read along has gone; the log is complete all the same
        raise typer.Exit(0) from None
