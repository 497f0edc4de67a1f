"""From a recording, a rig and what stands for "without slip" to the slip report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from whorlpulse.actions.recording import (
    Recording,
    counted_pulses,
    lacks_shaft,
    line_notes,
    never_together_or_few,
    pulse_notes,
    unreadable,
)
from whorlpulse.conditioning.chain import Conditioned, Stretch
from whorlpulse.conditioning.counted import Counted
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.ratio import FEWEST_TURNS
from whorlpulse.estimators.slip import SlipEstimate, band_order, estimate_slip
from whorlpulse.estimators.slip_reference import Reference
from whorlpulse.estimators.slip_slides import find_slides
from whorlpulse.findings import shaft_rules
from whorlpulse.findings.by_design import blurs
from whorlpulse.findings.catalogue.sensors import INFORMATION
from whorlpulse.findings.catalogue.slip import TOUCHES_BAND
from whorlpulse.findings.evidence import Facts, Framing
from whorlpulse.findings.report import Finding, Note, note
from whorlpulse.findings.silence import Silence, bursts_apart, silences
from whorlpulse.findings.slide_rules import with_slides
from whorlpulse.findings.slip_report import SlipReport
from whorlpulse.findings.slip_rules import slip_findings
from whorlpulse.pulses import BOBBIN, FLYER, WHEEL, Flag
from whorlpulse.rig import Rig

#: Flyer passages that are looked at to judge numbers of targets: enough for any pattern, and quick.
_LOOKED_AT = 6_000
#: Findings that make all counts doubtful.
_ARRANGEMENT = frozenset({"channels-swapped", "wheel-targets", "flyer-targets", "ratio-unlikely"})


def measure_slip(
    recording: Recording, rig: Rig, references: Sequence[Reference] = (), notes: Sequence[Note] = ()
) -> SlipReport:
    """Return the slip report of a recording.

    references: given, or from another log (`reference_ratios`). notes: what was said while the rig was put together.
    """
    conditioned = recording.conditioned(rig)
    said = [*notes, *line_notes(recording)]
    why_not = unreadable(recording, conditioned, rig)
    why_not = why_not or lacks_shaft(recording, WHEEL) or lacks_shaft(recording, FLYER)
    if why_not is not None:
        return SlipReport(recording.capture, cannot_say=why_not, notes=(*said, why_not))
    found = estimate_slip(conditioned, rig, references)
    said += pulse_notes(conditioned)
    sensors = _sensor_findings(recording, conditioned, rig, references)
    if found.slip is None:
        why_not = never_together_or_few(conditioned, rig, found.ratio.wheel_turns, FEWEST_TURNS)
        return SlipReport(recording.capture, found, sensors, why_not, (*said, why_not))
    missing, bobbin = _missing_share(conditioned), _bobbin_turns(conditioned, rig)
    quiet = _silences(recording, conditioned, rig)
    apart = bursts_apart(found.bursts, quiet, found.turn_s)
    if len(apart) < len(found.bursts):
        said.append(note("beside-silence", left_out=len(found.bursts) - len(apart)))
        found = replace(found, bursts=apart)
    findings = slip_findings(found, rig, missing_share=missing, bobbin=bobbin)
    if rig.tension == "scotch":
        findings = with_slides(findings, find_slides(conditioned), stood=any(f.id == "flyer-stood" for f in sensors))
    if any(f.id in _ARRANGEMENT for f in sensors):
        findings = ()  # what follows from a wrong count is no finding
    notes_beside = _notes(found, conditioned, rig, references)
    if blurs(found, rig):
        notes_beside.insert(0, note("slip-by-design-inside"))
    if any(f.id in TOUCHES_BAND for f in findings):
        notes_beside.append(note("caution"))
    return SlipReport(recording.capture, found, (*sensors, *findings), notes=(*notes_beside, *said))


def reference_ratios(recording: Recording, rig: Rig) -> tuple[list[Reference], Note | None]:
    """Return the ratios without bursts of another log's whorls, to be references; or why there are none.

    The uncertainty is that of what to expect from run to run, not only of the turns made in that log.
    """
    conditioned = recording.conditioned(rig)
    why_not = unreadable(recording, conditioned, rig)
    why_not = why_not or lacks_shaft(recording, WHEEL) or lacks_shaft(recording, FLYER)
    if why_not is not None:
        return [], why_not
    found = estimate_slip(conditioned, replace(rig, whorls=()))
    if found.slip is None:
        return [], never_together_or_few(conditioned, rig, found.ratio.wheel_turns, FEWEST_TURNS)
    known = []
    for whorl in found.whorls:
        expected_u = min(found.ratio.runs[i].expected.u for i in whorl.runs)
        kept = Measured(whorl.kept.value, max(whorl.kept.u, expected_u), whorl.kept.dof)
        known.append(Reference(kept, "other-capture"))
    return known, None


def _missing_share(conditioned: Conditioned) -> float:
    flags = np.concatenate([conditioned.trains[c].flag for c in (WHEEL, FLYER)])
    return float(np.count_nonzero(flags & (Flag.FILLED | Flag.EXTRA))) / max(len(flags), 1)


def _bobbin_turns(conditioned: Conditioned, rig: Rig) -> float | None:
    """Bobbin turns for each of the flyer's over the whole log, None without a bobbin sensor."""
    bobbin, flyer = (counted_pulses(conditioned, c) / rig.targets[chr(c)] for c in (BOBBIN, FLYER))
    return bobbin / flyer if bobbin > 0 and flyer > 0 else None


def _sensor_findings(
    recording: Recording, conditioned: Conditioned, rig: Rig, references: Sequence[Reference]
) -> tuple[Finding, ...]:
    """Faults of the sensors that would be taken for slip, as `check` finds them."""
    framing = Framing(0, 0, 0)
    looked_at = replace(conditioned, stretches=_head(conditioned.stretches))
    head = Facts(recording.log, looked_at, rig, framing, whole=conditioned)
    found = list(shaft_rules.arrangement(head, [r.ratio.value for r in references]))
    if not found:
        facts = Facts(recording.log, conditioned, rig, framing)
        found = [*shaft_rules.silent_shafts(facts), *shaft_rules.pulse_faults(facts)]
    return tuple(f for f in found if f.id not in INFORMATION and f.id != "bounce")


def _silences(recording: Recording, conditioned: Conditioned, rig: Rig) -> list[Silence]:
    """When the sensor of wheel or flyer was silent, but not when the flyer itself stood."""
    facts = Facts(recording.log, conditioned, rig, Framing(0, 0, 0))
    return [s for shaft in (FLYER, WHEEL) for s in silences(facts, shaft) if not (shaft == FLYER and s.stood)]


def _head(stretches: Sequence[Stretch]) -> tuple[Stretch, ...]:
    """The stretch with most flyer passages, cut off after `_LOOKED_AT` of them."""
    both = [s for s in stretches if len(s.flyer) and len(s.wheel)]
    if not both:
        return ()
    longest = max(both, key=lambda s: len(s.flyer))
    end_s = float(longest.flyer.t_s[min(_LOOKED_AT, len(longest.flyer)) - 1])
    return (Stretch(longest.run, _until(longest.flyer, end_s), _until(longest.wheel, end_s)),)


def _until(counted: Counted, end_s: float) -> Counted:
    n = int(np.searchsorted(counted.t_s, end_s, side="right"))
    return Counted(counted.t_s[:n], counted.passage[:n], counted.filled[:n])


def _notes(found: SlipEstimate, conditioned: Conditioned, rig: Rig, references: Sequence[Reference]) -> list[Note]:
    notes = _reference_notes(found, references)
    if found.unseen:
        return [*notes, note("counts-only")]
    targets = len(conditioned.angles[WHEEL].angle)
    if targets == 1:
        notes.append(note("one-target"))
    elif not any(line.source == "wheel" for w in found.whorls for line in w.lines):
        notes.append(note("wheel-order"))
    if not np.isfinite(band_order(rig)[0]):
        notes.append(note("no-band-order"))
    doubtful = sum(w.doubtful for w in found.whorls)
    if doubtful:
        notes.append(note("not-believed", doubtful=doubtful))
    if _missing_share(conditioned) >= 0.001:
        notes.append(note("ramps-unseen"))
    outside = sum(not b.counted for b in found.bursts)
    if outside:
        notes.append(note("outside-counted", bursts=outside))
    if found.bursts and found.bursts[0].winding is None:
        notes.append(note("no-winding"))
    return notes


def _reference_notes(found: SlipEstimate, references: Sequence[Reference]) -> list[Note]:
    notes = []
    used = [w.reference for w in found.whorls]
    if any(r.source == "this-capture" for r in used):
        notes.append(note("own-reference"))
    if any(r.source == "other-capture" for r in used):
        notes.append(note("reference-creeps"))
    unfit = [g for g in references if g.source == "given" and not any(r.source == "given" for r in used)]
    notes += [note("reference-unfit", ratio=g.ratio) for g in unfit]
    rivals = [(r.name, r.rival) for r in used if r.name is not None and r.rival is not None]
    return notes + [note("reference-rival", name=name, rival=rival) for name, rival in rivals]
