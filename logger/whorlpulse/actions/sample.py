"""From what was found on the yarn, and its log, to the sample report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from whorlpulse.actions.measure_twist import measure_twist
from whorlpulse.actions.recording import Side
from whorlpulse.estimators.agreement import Agreement, against_range, agreement
from whorlpulse.estimators.direct_count import Counted, samples_needed, twist_from_angle
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.plan import YarnPlan
from whorlpulse.estimators.winding import over_end_twist_tpm
from whorlpulse.findings.report import Finding, Note, TwistReport, note
from whorlpulse.findings.sample_rules import Clues, explanations
from whorlpulse.findings.yarn_reports import SampleReport
from whorlpulse.rig import Length

#: Samples enough for this relative half width are told when there are fewer.
_WORTH = 0.05


@dataclass(frozen=True)
class OnYarn:
    """What was found on the yarn; at least `counted`, or angle and diameter.

    gauge: twisted length of a counted sample. retwisted: counted by untwisting and twisting up again. bobbin: diameters
    in metres from which samples were drawn over the end.
    """

    counted: Counted | None = None
    gauge: Length | None = None
    retwisted: bool = False
    angle_deg: Measured | None = None
    diameter_m: Measured | None = None
    shortening: Measured | None = None
    bobbin: tuple[float, float] | None = None


def sample_report(
    yarn: OnYarn,
    log: Side | None = None,
    plan: YarnPlan | None = None,
    margin: float = 0.05,
    notes: Sequence[Note] = (),
) -> SampleReport:
    """Return the yarn's own twist, and how it compares with a log's and a plan's.

    margin: the relative difference of no account between yarn and log. ValueError if `yarn` says nothing of twist.
    """
    by_angle = _by_angle(yarn)
    twist = yarn.counted.twist if yarn.counted is not None else by_angle
    if twist is None:
        raise ValueError("counted turns, or surface angle and diameter, are needed")
    said = [*notes, *_about(yarn, by_angle)]
    sure = yarn.counted is None or yarn.counted.has_interval
    logged: TwistReport | None = None
    if log is not None:
        logged = measure_twist(log.recording, log.rig, None, log.notes)
        if logged.found is None:
            silent = logged.cannot_say or note("no-take-up")
            return SampleReport(log.recording.capture, twist=twist, cannot_say=silent, notes=(*said, silent))
        said += [note("sample-like-with-like"), *(n for n in logged.notes if n.key != "no-plan")]
    met = _met(twist, logged, margin) if sure else None
    why = _why(twist, logged, met, yarn, log)
    said += _not_over_end(why, yarn)
    return SampleReport(
        capture="" if log is None else log.recording.capture,
        twist=twist,
        gauge=yarn.gauge,
        counted=yarn.counted,
        angle_deg=yarn.angle_deg,
        diameter_m=yarn.diameter_m,
        by_angle=by_angle,
        shortening=yarn.shortening,
        log_twist=None if logged is None or logged.found is None else logged.found.twist,
        margin=margin,
        agreement=met,
        plan=plan,
        place=against_range(twist, plan.low_tpm, plan.high_tpm) if plan is not None and sure else None,
        findings=why,
        notes=tuple(said),
    )


def _by_angle(yarn: OnYarn) -> Measured | None:
    if yarn.angle_deg is None or yarn.diameter_m is None:
        return None
    return twist_from_angle(yarn.angle_deg, yarn.diameter_m)


def _not_over_end(why: Sequence[Finding], yarn: OnYarn) -> list[Note]:
    """Say what drawing off over the end would have done, where that can't be the reason."""
    if not why or yarn.bobbin is None or any(f.id == "sample-over-end" for f in why):
        return []
    least, most = yarn.bobbin
    return [note("sample-not-over-end", low=over_end_twist_tpm(most), high=over_end_twist_tpm(least))]


def _met(twist: Measured, logged: TwistReport | None, margin: float) -> Agreement | None:
    if logged is None or logged.found is None:
        return None
    return agreement(logged.found.twist, twist, margin * logged.found.twist.value)


def _why(
    twist: Measured, logged: TwistReport | None, met: Agreement | None, yarn: OnYarn, log: Side | None
) -> tuple[Finding, ...]:
    if logged is None or logged.found is None or met is None or log is None:
        return ()
    by_roller = logged.found.length_source == "roller"
    clues = Clues(yarn.bobbin, yarn.shortening, logged.found.length, log.rig.roller if by_roller else None)
    return explanations(twist, logged.found.twist, met, clues)


def _about(yarn: OnYarn, by_angle: Measured | None) -> list[Note]:
    said = []
    counted = yarn.counted
    if counted is not None:
        said.append(note("sample-iso"))
        if yarn.retwisted:
            said.append(note("sample-retwisted"))
        if counted.cv is None:
            said.append(note("sample-single"))
        else:
            said.append(note("sample-places"))
            enough = samples_needed(counted.cv, _WORTH)
            if enough > len(counted.each_tpm):
                said.append(note("sample-enough", samples=enough, percent=round(100.0 * _WORTH)))
    if by_angle is not None:
        said.append(note("sample-angle-model"))
    return said
