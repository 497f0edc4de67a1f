"""From a recording, a rig and a plan to the twist report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from whorlpulse.actions.bobbin_notes import bobbin_notes
from whorlpulse.actions.recording import Recording, lacks_shaft, line_notes, pulse_notes, roller_pulses, unreadable
from whorlpulse.conditioning.chain import Conditioned, Piece
from whorlpulse.estimators.bobbin_length import NoBobbinLength, bobbin_length
from whorlpulse.estimators.draws import Draws, find_draws
from whorlpulse.estimators.length_agreement import LengthAgreement, length_agreement
from whorlpulse.estimators.plan import YarnPlan
from whorlpulse.estimators.twist import NoTwist, TwistEstimate, Window, against_plan, estimate_twist
from whorlpulse.estimators.yarn_and_flyer import yarn_and_flyer
from whorlpulse.findings.length_rules import length_findings, length_notes
from whorlpulse.findings.report import Note, TwistReport, note
from whorlpulse.findings.roller_rules import roller_notes
from whorlpulse.pulses import BOBBIN, FLYER, ROLLER
from whorlpulse.rig import Rig

#: A twist less sure than this (half of its interval over its value) is not said.
_TOO_UNSURE = 0.5
#: Fewer flyer turns than this after the last take-up are not worth a note.
_WAITING_TURNS = 1.0


def measure_twist(
    recording: Recording, rig: Rig, plan: YarnPlan | None = None, notes: Sequence[Note] = ()
) -> TwistReport:
    """Return the twist report of a recording, against a plan if there is one."""
    conditioned = recording.conditioned(rig)
    said = [*notes, *line_notes(recording)]
    why_not = unreadable(recording, conditioned, rig) or (
        lacks_shaft(recording, FLYER) if lacks_shaft(recording, BOBBIN) else None
    )
    count_tex = plan.count_tex if plan is not None else None
    found: TwistEstimate | None = None
    if why_not is None:
        said += [*pulse_notes(conditioned), *roller_notes(conditioned)]
        try:
            found = estimate_twist(conditioned, rig, count_tex=count_tex)
        except NoTwist as reason:
            why_not = _why_none(reason.reason, recording, conditioned, rig)
    if found is not None and found.twist.value <= 0:
        found, why_not = None, note("no-take-up")
    if found is not None and not found.twist.half_width <= _TOO_UNSURE * found.twist.value:
        enough = found.length.value * found.twist.half_width / found.twist.value / _TOO_UNSURE
        why_not = note("little-yarn", length=found.length.value, turns=found.flyer_turns, enough=enough)
    if found is None or why_not is not None:
        kept = () if why_not is None else (why_not,)
        return TwistReport(recording.capture, plan=plan, cannot_say=why_not, notes=(*said, *kept))
    if found.length_source == "total":  # its windows would only repeat the mean
        found = replace(found, along=(Window(0.0, found.length.value, found.twist.value),), spread=None)
    source = yarn_and_flyer(conditioned, rig, count_tex)
    wound = source.passages or _wound(conditioned, rig, count_tex)
    draws = find_draws(conditioned, rig, source.yarn, source.flyer, wound)
    lengths = length_agreement(conditioned, rig, source.flyer, count_tex)
    judged = against_plan(found, plan.twist_tpm, plan.tolerance) if plan is not None else None
    return TwistReport(
        recording.capture,
        found=found,
        plan=plan,
        verdict=judged.verdict if judged is not None else None,
        off_plan=judged.off_plan if judged is not None else (),
        limit=_limit(found),
        notes=(
            *_about(found, conditioned, rig, plan, lengths),
            *length_notes(lengths, found.length_source),
            *bobbin_notes(found, conditioned, rig, count_tex),
            *_about_draws(draws, conditioned),
            *said,
        ),
        draws=draws,
        lengths=lengths,
        findings=length_findings(lengths, found.length_source, found.twist),
    )


def _wound(conditioned: Conditioned, rig: Rig, count_tex: float | None) -> tuple[Piece, ...]:
    """Return when the bobbin wound on, where another source gives the length; empty where it can't tell."""
    try:
        found = bobbin_length(conditioned, rig, count_tex)
    except NoBobbinLength:
        return ()
    return found.passages if found is not None else ()


def _about_draws(draws: Draws, conditioned: Conditioned) -> list[Note]:
    """Return why there are no draws, or what is not known of them."""
    if draws.manner == "not-seen":
        return [note("draws-not-seen" if ROLLER not in conditioned.coarse else "draws-coarse")]
    if draws.manner == "continuous":
        return [note("draws-continuous-bobbin" if draws.seen_by == "bobbin" else "draws-continuous")]
    notes = [note("draws-marks")] if draws.seen_by == "marks" else []
    if lost := sum(d.length_m is None for d in draws.draws):
        notes.append(note("draws-lost", draws=lost))
    if draws.rhythm is not None and draws.rhythm.rested:
        notes.append(note("draws-rested", draws=draws.rhythm.rested))
    return notes


def _why_none(reason: str, recording: Recording, conditioned: Conditioned, rig: Rig) -> Note:
    if reason == "no-flyer":
        return lacks_shaft(recording, FLYER) or note("no-take-up")
    if reason == "no-length" and rig.roller is not None:
        return note("no-take-up")
    if reason == "no-length" and roller_pulses(conditioned):
        return note("no-roller-length", pulses=roller_pulses(conditioned))
    return note(reason)


def _limit(found: TwistEstimate) -> Note:
    if found.length_share >= 0.5:
        return note("limit-length", percent=round(100.0 * found.length_share), length=found.length)
    return note("limit-turns")


def _about(
    found: TwistEstimate, conditioned: Conditioned, rig: Rig, plan: YarnPlan | None, lengths: LengthAgreement
) -> list[Note]:
    """Return what is left out, not known, or not used."""
    notes = []
    if plan is None:
        notes.append(note("no-plan"))
    if found.waiting_turns >= _WAITING_TURNS:
        notes.append(note("waiting", turns=found.waiting_turns))
    if found.left_out_s:
        seconds = sum(end - start for start, end in found.left_out_s)
        notes.append(note("left-out", pieces=len(found.left_out_s), seconds=seconds))
    others = {
        "roller": rig.roller is not None and roller_pulses(conditioned) > 0,
        "marks": any(m.length.m > 0 for m in rig.length_marks),
    }
    told = {s for p in lengths.pairs for s in (p.first, p.second)} | {s for pair in lengths.not_compared for s in pair}
    names = {"roller": "a roller", "marks": "length lines", "total": "total"}
    notes += [
        note("length-ignored", what=names[key], used=names.get(found.length_source, found.length_source))
        for key, there in others.items()
        if there and key != found.length_source and key not in told
    ]
    if found.length_source == "total":
        notes.append(note("no-along"))
    elif found.spread is None:
        notes.append(note("no-spread"))
    return notes
