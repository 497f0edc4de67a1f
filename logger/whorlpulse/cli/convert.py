"""`whorlpulse convert`: WAV, VCD or CSV to a pulse log; a pulse log to a tidy CSV, or to a log tied better."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

if TYPE_CHECKING:
    from whorlpulse.actions.convert import Asked, Kind
    from whorlpulse.importers import Recording

File = Annotated[str, typer.Argument(metavar="FILE", help="WAV, VCD, CSV or a pulse log; - for standard input.")]
Out = Annotated[str | None, typer.Option("-o", "--output", metavar="FILE", help="Where to; - for standard output.")]
Channels = Annotated[
    str | None, typer.Option("--channels", metavar="PAIRS", help="left=w,right=f, or w=hall0,f=hall1.")
]
TimeColumn = Annotated[str | None, typer.Option("--time-column", metavar="NAME", help="CSV: the column of times.")]
Targets = Annotated[str | None, typer.Option("--targets", metavar="TEXT", help="Targets per turn, as 'w=4 f=1'.")]
TimeUnit = Annotated[str | None, typer.Option("--time-unit", metavar="UNIT", help="CSV: s, ms, us or ns.")]
Falling = Annotated[bool | None, typer.Option("--falling/--rising", help="What a target does to the signal.")]
KindOption = Annotated[
    str | None, typer.Option("--kind", metavar="KIND", help="If it can't be told: wav, vcd, csv or log.")
]
Replace = Annotated[bool, typer.Option("--replace", help="Overwrite the output file.")]

Blocks = Callable[[], Iterator[bytes]]

_LETTERS: Final = "wfby"
_UNITS: Final = ("s", "ms", "us", "ns")
_PARTED: Final = re.compile(r"\s*[,;]\s*|\s+(?=[^\s=,;]+\s*=)")


def convert(
    file: File,
    output: Out = None,
    channels: Channels = None,
    time_column: TimeColumn = None,
    time_unit: TimeUnit = None,
    falling: Falling = None,
    targets: Targets = None,
    kind: KindOption = None,
    replace: Replace = False,
) -> None:
    """Other recordings to a pulse log, and a log to a table.

    Reads sound (WAV), logic analysers (VCD) and tables (CSV).

    What was guessed is said, and noted in the log.

    Example: whorlpulse convert wheel.wav --channels left=w,right=f
    """
    from whorlpulse.actions.convert import Asked, kind_of
    from whorlpulse.sources.files import log_blocks

    from .exits import InputError

    if time_unit is not None and time_unit not in _UNITS:
        raise InputError(f"--time-unit {time_unit}: write s, ms, us or ns")
    asked = Asked(shafts_of(channels), time_column, time_unit, falling, _targets(targets))
    blocks = log_blocks(file)
    what = _kind(kind) or kind_of(next(blocks(), b""), file)
    out = output if output is not None else _beside(file, what)
    _refuse_taken(out, file, replace=replace)
    if what == "log" and out.endswith(".pulses"):
        _to_better_log(blocks, file, out, replace=replace)
        return
    if what == "log":
        _to_table(blocks, file, out, asked, replace=replace)
        return
    if out.endswith(".csv"):
        raise InputError(f"{out}: a recording becomes a pulse log first: name it *.pulses, then convert that to CSV")
    _to_log(blocks, file, out, what, asked, replace=replace)


def shafts_of(text: str | None) -> dict[str, str] | None:
    """Return {letter: side, signal or column} from `left=w,right=f` or `w=hall0 f=hall1`; InputError if neither."""
    from .exits import InputError

    if text is None:
        return None
    found: dict[str, str] = {}
    for word in filter(None, _PARTED.split(text.strip())):
        one, equals, other = (part.strip() for part in word.partition("="))
        letter, name = (one, other) if one in _LETTERS else (other, one)
        if not (equals and len(letter) == 1 and letter in _LETTERS and name) or letter in found:
            raise InputError(
                f'--channels "{text}": write each shaft once (w wheel, f flyer, b bobbin, y roller), '
                "as left=w,right=f or w=hall0,f=hall1"
            )
        found[letter] = name
    if not found:
        raise InputError('--channels "": write which signal is which shaft, as left=w,right=f')
    return found


def _targets(text: str | None) -> str | None:
    from .exits import InputError

    if text is None:
        return None
    pairs = text.replace(",", " ").split()
    if not pairs or not all(re.fullmatch(r"[wfby]=[1-9][0-9]{0,3}", pair) for pair in pairs):
        raise InputError(f"--targets \"{text}\": write channels and targets per turn, for example --targets 'w=4 f=1'")
    return " ".join(pairs)


def _kind(text: str | None) -> Kind | None:
    from whorlpulse.actions.convert import KINDS

    from .exits import InputError

    for kind in KINDS:
        if text is None or text == kind:
            return None if text is None else kind
    raise InputError(f"--kind {text}: write {', '.join(KINDS[:-1])} or {KINDS[-1]}")


def _beside(file: str, kind: Kind) -> str:
    """Return the output's name where none was given: beside the input, with its own ending."""
    if file == "-":
        return "-"
    return str(Path(file).with_suffix(".csv" if kind == "log" else ".pulses"))


def _refuse_taken(out: str, file: str, *, replace: bool) -> None:
    """Refuse to write before minutes of work, not after; and never onto the input."""
    from .exits import InputError

    if out == "-":
        return
    place = Path(out)
    if place.exists() and Path(file).exists() and place.samefile(file):
        raise InputError(f"{out} is the file to convert itself: name another output with -o")
    if place.exists() and not replace:
        raise InputError(f"{out} exists already and is left as it is: name another with -o, or say --replace")


def _to_log(blocks: Blocks, file: str, out: str, kind: Kind, asked: Asked, *, replace: bool) -> None:
    from whorlpulse.actions.convert import as_log, read_recording
    from whorlpulse.importers import NothingFound, Unreadable
    from whorlpulse.sources.files import shown

    from .exits import CANNOT_SAY, InputError, complain
    from .progress import Progress, followed

    try:
        with Progress(f"converting {shown(file)}") as progress:
            data = b"".join(followed(blocks, file, progress)())
            progress.done = None
            recording = read_recording(kind, data, asked)
            log = as_log(recording, asked, _name(file))
    except Unreadable as fault:
        raise InputError(f"{shown(file)}: {fault}") from None
    except NothingFound as fault:
        complain(f"{shown(file)}: {fault}")
        raise typer.Exit(CANNOT_SAY) from None
    _write(out, log, replace=replace)
    _tell(recording, out)


def _to_table(blocks: Blocks, file: str, out: str, asked: Asked, *, replace: bool) -> None:
    from whorlpulse.actions.convert import as_table
    from whorlpulse.actions.recording import read_recording, unreadable
    from whorlpulse.logfile import LogError
    from whorlpulse.sources.files import shown
    from whorlpulse.views.figures import words

    from .exits import CANNOT_SAY, InputError, complain
    from .inputs import Given, rig_of
    from .progress import Progress, followed

    try:
        with Progress(f"reading {shown(file)}") as progress:
            recording = read_recording(followed(blocks, file, progress), shown(_name(file)))
    except LogError as fault:
        raise InputError(f"{shown(file)}: {fault}") from None
    rig, _ = rig_of(recording, Given(targets=asked.targets), needs_length=False)
    conditioned = recording.conditioned(rig)
    why = unreadable(recording, conditioned, rig)
    if why is not None:
        complain(f"{recording.capture}: {words(why)}")
        raise typer.Exit(CANNOT_SAY)
    table = as_table(conditioned)
    _write(out, table, replace=replace)
    if out != "-":
        lines = table.decode("ascii").splitlines()
        typer.echo(f"{out}: {len(lines) - 1} pulses, columns {lines[0]}")


def _to_better_log(blocks: Blocks, file: str, out: str, *, replace: bool) -> None:
    from whorlpulse.sources.files import shown

    from .convert_again import tied_log
    from .show import say

    log, gain = tied_log(blocks, shown(file))
    _write(out, log, replace=replace)
    say(f"{shown(out)}: {gain}\nNext: whorlpulse check {shown(out)}")


def _name(file: str) -> str:
    return "standard input" if file == "-" else Path(file).name


def _write(out: str, data: bytes, *, replace: bool) -> None:
    from whorlpulse.sources.files import write_new

    if out == "-":
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    else:
        write_new(out, data, replace=replace)


def _tell(recording: Recording, out: str) -> None:
    """Say what was found and what was guessed: on standard error when the log itself goes to standard output."""
    from .show import say

    pulses = ", ".join(f"{letter} {n}" for letter, n in recording.pulses_by_channel().items())
    lines = [f"{out}: pulses {pulses}", *(f"  - {text}" for text in recording.notes)]
    if out == "-":
        typer.echo("\n".join(lines), err=True)
    else:
        say("\n".join([*lines, f"Next: whorlpulse ratio {out}"]))
