"""A log for Python callers: from a path, bytes or a simulated capture, with its wheel and its plan."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from whorlpulse.actions.recording import Recording, read_recording
from whorlpulse.findings.report import note
from whorlpulse.logfile import LogError
from whorlpulse.simulate import Capture
from whorlpulse.sources.files import BLOCK_BYTES, SourceError, log_blocks, read_bytes, shown

from .exits import InputError
from .inputs import Given, rig_of
from .plan_file import PlanError, PlanFile, read_plan
from .wheel_file import WheelError, WheelFile, read_wheel

if TYPE_CHECKING:
    from whorlpulse.findings.report import Note
    from whorlpulse.rig import Rig

UNREADABLE: Final = (LogError, InputError, SourceError, WheelError, PlanError)
_LETTERS: Final = "wfby"
Source = str | Path | bytes | Capture


class BadInputError(ValueError):
    """Something that can't be used: what, where, and what to do, in one line."""


@dataclass(frozen=True)
class Log:
    """A log that was read, with the wheel and the plan that belong to it; made by `read_log`.

    name: the file's. place: of its folder. pulses: how many pulse lines it has. metadata: its `# key: value` lines, of
    a key with several lines the last.
    """

    name: str
    place: str
    recording: Recording = field(repr=False)
    rig: Rig = field(repr=False)
    plan: PlanFile | None = field(default=None, repr=False)
    notes: tuple[Note, ...] = field(default=(), repr=False)
    files: tuple[Note, ...] = field(default=(), repr=False)

    @property
    def about(self) -> str:
        """Its name, and whether it is simulated, as it says itself."""
        simulated = (self.recording.log.header.board or "").strip().lower() == "simulated"
        return f"{self.name}, simulated" if simulated else self.name

    @property
    def pulses(self) -> int:
        """How many pulse lines it has."""
        return len(self.recording.log.rows)

    @property
    def metadata(self) -> dict[str, str]:
        """Its notes by key."""
        return {e.key: e.value for e in self.recording.log.header.entries if e.key}


def read_log(
    source: Source,
    *,
    wheel: str | Path | None = None,
    plan: str | Path | None = None,
    targets: str | None = None,
    roller: str | None = None,
    total: str | None = None,
    beside: bool = True,
) -> Log:
    """Return the log at a path, in bytes, or of a simulated capture. Raises BadInputError when it can't be used.

    wheel, plan: paths of their files. beside: take wheel.toml and plan.toml beside the log (or a capture's own) where
    they are not given. targets, roller, total: as the options, `"w=4 f=1"`, `"10.00 cm"`, `"23.4 m"`.
    """
    name, place, blocks = "log.pulses", "", None
    try:
        if isinstance(source, str | Path):
            name, place = shown(Path(source).name), shown(Path(source).resolve().parent.name)
            blocks = log_blocks(source)
        recording = read_recording(blocks or _in_memory(source), name)
        rig, notes = rig_of(recording, Given(None, targets, roller, total), needs_length=False)
        files = []
        if (said := _belonging(source, "wheel", wheel, beside)) is not None:
            rig = _onto(read_wheel(said.data, said.name), rig, targets)
            files.append(note(f"wheel-{said.how}", name=said.name))
        planned = None
        if (said := _belonging(source, "plan", plan, beside)) is not None:
            planned = read_plan(said.data, said.name)
            files.append(note(f"plan-{said.how}", name=said.name))
    except LogError as fault:
        raise BadInputError(f"{name}: {fault}") from None
    except UNREADABLE as fault:
        raise BadInputError(str(fault)) from None
    return Log(name, place, recording, rig, planned, tuple(notes), tuple(files))


class _File(NamedTuple):
    name: str
    data: bytes
    how: Literal["given", "beside"]


def _in_memory(source: Source) -> Callable[[], Iterator[bytes]]:
    data = source.log if isinstance(source, Capture) else source
    if not isinstance(data, bytes):
        raise TypeError(f"a log is a path, bytes or a simulated capture, not {type(source).__name__}")
    return lambda: (data[i : i + BLOCK_BYTES] for i in range(0, len(data), BLOCK_BYTES))


def _belonging(source: Source, what: Literal["wheel", "plan"], given: str | Path | None, beside: bool) -> _File | None:
    """Return the wheel or plan file that was given, or else the one that stands beside the log."""
    if given is not None:
        return _File(shown(given), read_bytes(given), "given")
    if not beside or isinstance(source, bytes):
        return None
    if isinstance(source, Capture):
        text = source.wheel_toml if what == "wheel" else source.plan_toml
        return _File(f"{what}.toml", text.encode(), "beside") if text is not None else None
    near = Path(source).with_name(f"{what}.toml")
    return _File(near.name, read_bytes(near), "beside") if near.is_file() else None


def _onto(wheel: WheelFile, rig: Rig, targets: str | None) -> Rig:
    """Put what the wheel file says over the log's, but leave what was told for this call."""
    told = {c: rig.targets[c] for c in _LETTERS if targets is not None and f"{c}=" in targets}
    made = wheel.onto(rig)
    return replace(made, targets=MappingProxyType({**made.targets, **told}))
