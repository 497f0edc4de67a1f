"""From logs or figures of singles and ply to the ply report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from whorlpulse.actions.measure_twist import measure_twist
from whorlpulse.actions.reckon_plan import whorls_of
from whorlpulse.actions.recording import Side
from whorlpulse.estimators.agreement import Place, against_range
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.plan import YarnPlan, per_whorl
from whorlpulse.estimators.plying import mean_of_singles, ply_direction, ply_twist_tpm, plying, resultant_count_tex
from whorlpulse.estimators.yarn_geometry import Direction, drafted_length
from whorlpulse.findings.report import Note, note
from whorlpulse.findings.yarn_reports import PlyReport, Spun
from whorlpulse.rig import Rig

_TPI = 0.0254


@dataclass(frozen=True)
class Asked:
    """What the spinner says of the plying: plies, direction of the singles, whether the ply goes the same way.

    contraction: part of the singles' length that plying takes, None when not told.
    """

    plies: int
    singles_direction: Direction = "Z"
    same_way: bool = False
    contraction: float | None = None

    @property
    def direction(self) -> Direction:
        """The ply's direction."""
        return self.singles_direction if self.same_way else ply_direction(self.singles_direction)


def ply_report(
    singles: Sequence[Side | Spun],
    ply: Side | Spun | None,
    asked: Asked,
    plan: YarnPlan | None = None,
    rig: Rig | None = None,
    notes: Sequence[Note] = (),
) -> PlyReport:
    """Return what plying has made of the singles, or, without a ply, what ply twist they want.

    singles: at least one. rig: whorls for plying. A log that can't say its twist makes a report that can't either.
    """
    said = list(notes)
    spun = _all_measured(singles, ply, said)
    if isinstance(spun, PlyReport):
        return spun
    strands, plied = (spun, None) if ply is None else (spun[:-1], spun[-1])
    shared = _shared_relative_u(spun)
    mean = mean_of_singles([s.twist for s in strands], shared)
    contraction = asked.contraction or 0.0
    found = None
    if plied is not None:
        found = plying(mean, plied.twist, same_way=asked.same_way, contraction=contraction, shared_relative_u=shared)
        if shared > 0:
            said.append(note("ply-shared-roller"))
    planned = None if plan is None else plan.planned_ply_tpm
    target = ply_twist_tpm(mean.value) if planned is None else planned
    known = [] if rig is None else whorls_of(rig, said)
    needed = _needed(plied, contraction)
    said += _notes(asked, mean, plied, strands, needed)
    return PlyReport(
        capture=", ".join(dict.fromkeys(s.capture for s in spun)),
        singles=tuple(strands),
        ply=plied,
        plies=asked.plies,
        singles_direction=asked.singles_direction,
        ply_direction=asked.direction,
        contraction=contraction,
        found=found,
        mean=mean,
        target_tpm=target,
        planned=plan,
        singles_place=None if plan is None else against_range(mean, plan.low_tpm, plan.high_tpm),
        place=_place(plied, plan),
        needed_m=needed,
        plied_tex=_plied_tex(plan, asked),
        whorls=per_whorl(YarnPlan(target), known, retraction=contraction),
        notes=tuple(said),
    )


def _all_measured(singles: Sequence[Side | Spun], ply: Side | Spun | None, said: list[Note]) -> list[Spun] | PlyReport:
    """Measure the singles, and the ply last; or the report of the first that can't say its twist."""
    spun: list[Spun] = []
    for side in [*singles, *([] if ply is None else [ply])]:
        one = side if isinstance(side, Spun) else _measured(side, said, ply=side is ply)
        if isinstance(one, Note):
            assert isinstance(side, Side)
            return PlyReport(side.recording.capture, cannot_say=one, notes=(*said, one))
        spun.append(one)
    return spun


def _measured(side: Side, said: list[Note], *, ply: bool) -> Spun | Note:
    """Measure a log's twist; its notes are kept under the log's name."""
    report = measure_twist(side.recording, side.rig, None, side.notes)
    if report.cannot_say is not None or report.found is None:
        return report.cannot_say or note("no-take-up")
    about = [n for n in report.notes if n.key not in ("no-plan", "no-along", "no-spread")]
    if about:
        said += [note("ply-of-ply-log" if ply else "ply-of-singles-log", name=side.recording.capture), *about]
    roller = side.rig.roller if report.found.length_source == "roller" else None
    return Spun(side.recording.capture, report.found.twist, report.found.length, roller)


def _shared_relative_u(spun: Sequence[Spun]) -> float:
    """Return the relative uncertainty of the one roller that measured all lengths, 0 where there is no such."""
    first = spun[0].roller
    if first is None or len(spun) < 2 or any(s.roller != first for s in spun):
        return 0.0
    return first.m_u / first.m


def _needed(plied: Spun | None, contraction: float) -> Measured | None:
    """Return the length of each single in the plied yarn."""
    if plied is None or plied.length is None:
        return None
    return plied.length.times(drafted_length(1.0, contraction))


def _place(plied: Spun | None, plan: YarnPlan | None) -> Place | None:
    """Return where the ply's twist stands against the plan's, within the plan's tolerance."""
    if plied is None or plan is None or plan.planned_ply_tpm is None:
        return None
    tpm = plan.planned_ply_tpm
    return against_range(plied.twist, tpm * (1.0 - plan.tolerance), tpm * (1.0 + plan.tolerance))


def _plied_tex(plan: YarnPlan | None, asked: Asked) -> float | None:
    if plan is None or plan.count_tex is None:
        return None
    taken = plan.ply_contraction if asked.contraction is None else asked.contraction
    return resultant_count_tex([plan.count_tex] * asked.plies, taken)


def _notes(
    asked: Asked, mean: Measured, plied: Spun | None, strands: Sequence[Spun], needed: Measured | None
) -> list[Note]:
    said = []
    if plied is not None:
        said.append(note("ply-direction", singles=asked.singles_direction, direction=asked.direction))
    if asked.plies > 2:
        said.append(note("ply-rule-two", plies=asked.plies))
    if asked.contraction is not None:
        said.append(note("ply-contraction", percent=100.0 * asked.contraction))
    elif plied is not None and not asked.same_way:
        said.append(note("ply-no-contraction", tpi=0.01 * mean.value * _TPI))
    if needed is not None and len(strands) == asked.plies:
        said += [
            note("ply-short-singles", name=s.capture, needed=needed, have=s.length)
            for s in strands
            if s.length is not None and needed.low > s.length.high
        ]
    if not asked.same_way:
        said.append(note("ply-rested"))
    return said
