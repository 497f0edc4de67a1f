"""From a recording and a rig to the bench card of a wheel, and to what of it may go into the wheel file."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import ceil, sqrt

from msgspec.structs import replace

from whorlpulse.actions.measure_slip import measure_slip
from whorlpulse.actions.recording import Recording
from whorlpulse.estimators.band_ratio import no_slip_ratio
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.slip import SlipEstimate, WhorlSlip
from whorlpulse.estimators.slip_reference import Reference
from whorlpulse.estimators.survey_turns import (
    END_TURNS,
    SLIP_TURNS,
    TIMING_S,
    USUAL_CADENCE_HZ,
    USUAL_RATIO,
    more_turns,
    planned_turns,
)
from whorlpulse.estimators.whorl_match import Match, match_whorls
from whorlpulse.findings.report import Note, note
from whorlpulse.findings.survey_report import SurveyReport, Use, WheelFacts, WhorlCard
from whorlpulse.rig import Rig

#: The ± that is wanted where none is asked for, as a part of the ratio.
WANTED_SHARE = 0.001
#: Findings of sensors that make the counts themselves doubtful.
_DOUBTFUL = frozenset({"channels-swapped", "wheel-targets", "flyer-targets", "ratio-unlikely"})
#: Notes of `slip` that have no place on a card: it says the same in its own words, or is about a single log.
_NOT_HERE = frozenset({"own-reference", "caution", "wheel-order", "no-band-order", "one-target", "no-winding"})
_ROUND_S = 5
#: The board that a simulated log names.
_SIMULATED = "simulated"


def survey(
    recording: Recording,
    rig: Rig,
    wheel: WheelFacts,
    references: Sequence[Reference] = (),
    draft_m: float | None = None,
    share: float = WANTED_SHARE,
    notes: Sequence[Note] = (),
) -> SurveyReport:
    """Return the bench card of the wheel that this recording is of.

    references: ratios without slip, given or of another log. draft_m: yarn for one treadle stroke. share: the ±
    that is wanted, as a part of the ratio. notes: what was said already while the rig was put together.
    """
    slip = measure_slip(recording, rig, references, notes)
    guide = measuring_guide(rig, share)
    if slip.cannot_say is not None or slip.found is None:
        return SurveyReport(
            recording.capture, wheel, share, guide=guide, cannot_say=slip.cannot_say, notes=slip.notes, draft_m=draft_m
        )
    found = slip.found
    matches = _matches(found, rig)
    whorls = [_whorl(found, i, match, rig, share) for i, match in enumerate(matches)]
    turns = sum(r.wheel_turns for r in found.ratio.runs)
    return SurveyReport(
        recording.capture,
        wheel,
        share,
        whorls=_with_uses(whorls, draft_m),
        draft_m=draft_m,
        wheel_turns=turns,
        cadence_hz=turns / sum(r.wheel_turns / r.cadence_hz for r in found.ratio.runs),
        targets=(rig.targets["w"], rig.targets["f"]),
        unseen=found.unseen,
        simulated=(recording.log.header.board or "").strip().casefold() == _SIMULATED,
        doubtful=any(f.id in _DOUBTFUL for f in slip.findings),
        findings=slip.findings,
        guide=guide,
        notes=(*_notes(whorls, matches, rig, draft_m, share), *(n for n in slip.notes if n.key not in _NOT_HERE)),
    )


def measuring_guide(rig: Rig, share: float = WANTED_SHARE) -> tuple[Note, ...]:
    """Return the steps of logging whorl after whorl, with the time that ±share of the ratio takes.

    The wheel's own smallest ratio is reckoned with where the rig knows one.
    """
    known = [r for r in _known(rig) if r is not None]
    ratio = min(known, default=USUAL_RATIO)
    turns = planned_turns(share, ratio)
    seconds = ceil((turns + END_TURNS) / USUAL_CADENCE_HZ / _ROUND_S) * _ROUND_S
    treadle = note(
        "guide-treadle",
        seconds=seconds,
        turns=turns,
        cadence=round(60.0 * USUAL_CADENCE_HZ),
        wanted=100.0 * share,
        ratio=ratio,
        ms=1e3 * TIMING_S,
        slip=SLIP_TURNS,
    )
    steps = [note(f"guide-{step}") for step in ("fit", "start", "move", "end", "load")]
    return (*steps[:2], treadle, *steps[2:])


def _known(rig: Rig) -> list[float | None]:
    """The wheel file's ratio without slip of each whorl."""
    found = [no_slip_ratio(rig, whorl) for whorl in rig.whorls]
    return [None if r is None else r.value for r in found]


def _matches(found: SlipEstimate, rig: Rig) -> list[Match]:
    """The wheel file's whorl of each measured one."""
    return match_whorls([_without_slip(w).value for w in found.whorls], _known(rig))


def _without_slip(whorl: WhorlSlip) -> Measured:
    """The ratio by which a whorl is known again: the reference's where that was measured on this wheel."""
    by_reference = whorl.reference.source in ("given", "other-capture")
    return whorl.reference.ratio if by_reference else whorl.kept


def _whorl(found: SlipEstimate, number: int, match: Match, rig: Rig, share: float) -> WhorlCard:
    whorl = found.whorls[number]
    longest = max((found.ratio.runs[i] for i in whorl.runs), key=lambda r: r.wheel_turns)
    expected = min((found.ratio.runs[i].expected for i in whorl.runs), key=lambda m: m.u)
    u, dof = max((whorl.kept.u, whorl.kept.dof), (expected.u, expected.dof))
    ratio = Measured(whorl.kept.value, u, dof)
    index = match.index if match.sure else None
    reference = _fitting(whorl.reference, index, rig)
    return WhorlCard(
        ratio=ratio,
        made=whorl.ratio,
        wheel_turns=whorl.wheel_turns,
        runs=whorl.runs,
        name=None if index is None else rig.whorls[index].name or str(index + 1),
        index=index,
        diameter=None if index is None else rig.whorls[index].diameter,
        no_slip=None if reference is None else reference.ratio,
        source=None if reference is None else reference.source,
        by_diameters=reference is not None and reference.by_diameters,
        slip=None if reference is None else whorl.slip,
        bursts=sum(b.whorl == number and b.counted for b in found.bursts) + whorl.doubtful,
        turns_wanted=more_turns(ratio, longest.wheel_turns, share),
    )


def _fitting(reference: Reference, index: int | None, rig: Rig) -> Reference | None:
    """The reference, unless it is this log's own, or the wheel file's of a whorl that this one is not surely."""
    if reference.source == "this-capture":
        return None
    if reference.source != "wheel-file":
        return reference
    mine = None if index is None else rig.whorls[index].name or str(index + 1)
    return reference if reference.name == mine else None


def _with_uses(whorls: Sequence[WhorlCard], draft_m: float | None) -> tuple[WhorlCard, ...]:
    """Each whorl with the twist at this draft; the border between two is the geometric mean of their twists."""
    if draft_m is None:
        return tuple(whorls)
    twists = [w.ratio.value / draft_m for w in whorls]
    borders = [sqrt(a * b) for a, b in pairwise(twists)]
    uses = zip(twists, [None, *borders], [*borders, None], strict=True)
    return tuple(replace(w, use=Use(*use)) for w, use in zip(whorls, uses, strict=True))


def _notes(
    whorls: Sequence[WhorlCard], matches: Sequence[Match], rig: Rig, draft_m: float | None, share: float
) -> list[Note]:
    notes = []
    for number, (whorl, match) in enumerate(zip(whorls, matches, strict=True), 1):
        if match.rivals or match.shared:
            names = named(rig, [*match.rivals, *([] if match.index is None else [match.index])])
            notes.append(note("whorl-rival", ratio=whorl.ratio, names=names))
        if whorl.turns_wanted is not None:
            percent = 100.0 * whorl.ratio.half_width / whorl.ratio.value
            label, wanted = whorl.name or str(number), 100.0 * share
            notes.append(note("more-turns", whorl=label, percent=percent, wanted=wanted, turns=whorl.turns_wanted))
    if len(whorls) == 1:
        notes.append(note("one-whorl"))
    if draft_m is None:
        notes.append(note("no-draft"))
    if any(w.slip is None for w in whorls):
        notes.append(note("no-reference"))
    return notes


def named(rig: Rig, indices: Sequence[int]) -> str:
    """Return the names of whorls of the file, by index, as they are said in a sentence."""
    return " or ".join(rig.whorls[i].name or str(i + 1) for i in sorted(indices))
