"""What a command has found out: the one result object of each, in SI units, without a word of prose.

A report holds figures and the keys of sentences; the sentences stand in `catalogue`, the rounding in the views. An
unknown is None, and `cannot_say` or one of the notes tells why.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    from whorlpulse.estimators.draws import Draws
    from whorlpulse.estimators.length_agreement import LengthAgreement
    from whorlpulse.estimators.measured import Measured
    from whorlpulse.estimators.plan import YarnPlan
    from whorlpulse.estimators.twist import OffPlan, TwistEstimate, Verdict

    Figure = float | int | str | Measured


class Note(msgspec.Struct, frozen=True):
    """A sentence of the catalogue by its key, with the figures that go into its braces, in the sentence's units."""

    key: str
    figures: dict[str, Figure] = {}


def note(key: str, /, **figures: Figure) -> Note:
    """Return the note `key` with these figures."""
    return Note(key, figures)


class Finding(msgspec.Struct, frozen=True):
    """Something to look at. id: key of its sentences (says, evidence, try); confidence: 0 to 1."""

    id: str
    confidence: float
    figures: dict[str, Figure] = {}


class RunLine(msgspec.Struct, frozen=True):
    """One run of the wheel: seconds since the log's first line, turns, wheel turns per second.

    ratio: of the turns that were made. expected: of another such run, the band's wandering included.
    """

    start_s: float
    end_s: float
    ratio: Measured
    expected: Measured
    wheel_turns: float
    flyer_turns: float
    cadence_hz: float


class WhorlLine(msgspec.Struct, frozen=True):
    """The runs on one whorl, by index. name and no_slip (ratio without slip) are the wheel file's, or None."""

    ratio: Measured
    runs: tuple[int, ...]
    name: str | None = None
    no_slip: Measured | None = None


class RatioReport(msgspec.Struct, frozen=True):
    """Answer to `ratio`. cannot_say: why there is no answer. limit: what limits the answer."""

    capture: str
    ratio: Measured | None = None
    wheel_turns: float | None = None
    flyer_turns: float | None = None
    runs: tuple[RunLine, ...] = ()
    whorls: tuple[WhorlLine, ...] = ()
    limit: Note | None = None
    cannot_say: Note | None = None
    notes: tuple[Note, ...] = ()


class TwistReport(msgspec.Struct, frozen=True):
    """Answer to `twist`. plan: what the yarn shall be; verdict and off_plan: the yarn against it.

    draws: the yarn draw by draw, and how it was taken up. lengths: its sources of length against each other, findings:
    where they disagree.
    """

    capture: str
    found: TwistEstimate | None = None
    plan: YarnPlan | None = None
    verdict: Verdict | None = None
    off_plan: tuple[OffPlan, ...] = ()
    limit: Note | None = None
    cannot_say: Note | None = None
    notes: tuple[Note, ...] = ()
    draws: Draws | None = None
    lengths: LengthAgreement | None = None
    findings: tuple[Finding, ...] = ()


class Comparison(msgspec.Struct, frozen=True):
    """One line of the demo: the sentence that names the quantity, what was measured, and the simulation's truth."""

    what: Note
    measured: Measured
    truth: float


class DemoReport(msgspec.Struct, frozen=True):
    """What the demo measured in simulated captures, each figure beside its truth."""

    seed: int
    bench: tuple[Comparison, ...]
    skein: tuple[Comparison, ...]
    soft: tuple[OffPlan, ...]
    true_soft: tuple[tuple[float, float, float], ...]
    plan: YarnPlan
