"""From a recording, a rig and a plan to the full report: every question asked once, and the courses to draw."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from whorlpulse import __version__
from whorlpulse.actions.compare_logs import compare_logs
from whorlpulse.actions.health import check_health
from whorlpulse.actions.measure_cadence import measure_cadence
from whorlpulse.actions.measure_ratio import measure_ratio
from whorlpulse.actions.measure_slip import measure_slip
from whorlpulse.actions.measure_twist import measure_twist
from whorlpulse.actions.reckon_plan import reckon_plan
from whorlpulse.actions.recording import Recording, Side
from whorlpulse.actions.report_budget import budget
from whorlpulse.actions.report_courses import courses
from whorlpulse.estimators.plan import YarnPlan
from whorlpulse.estimators.slip_reference import Reference
from whorlpulse.findings.full_report import About, FullReport, PairReport
from whorlpulse.findings.report import Note, RatioReport
from whorlpulse.findings.yarn_reports import PlanReport
from whorlpulse.rig import Rig, Whorl

#: Treadles a minute that a plan is reckoned for where the log says none (common practice, no source).
_USUAL_HZ = 1.0
#: How the board or the note of a log begins where no wheel was.
_SIMULATED = "simulated"


@dataclass(frozen=True)
class Asked:
    """What a report is asked of. notes: said while rig and plan were put together; files: where these came from;
    place: the name of the folder that the log lies in.

    references: ratios without slip, as for `measure_slip`. treadles: 1 or 2 as told, None when not.
    """

    recording: Recording
    rig: Rig
    plan: YarnPlan | None = None
    references: Sequence[Reference] = ()
    treadles: int | None = None
    notes: Sequence[Note] = ()
    plan_notes: Sequence[Note] = ()
    files: Sequence[Note] = ()
    place: str = ""


def make_report(asked: Asked, done: Callable[[float], None] = lambda share: None) -> FullReport:
    """Return the full report; done: is told the share of the work done, from 0 to 1."""
    recording, rig, notes = asked.recording, asked.rig, asked.notes
    ratio = measure_ratio(recording, rig, notes)
    done(0.15)
    slip = measure_slip(recording, rig, asked.references, notes)
    done(0.35)
    cadence = measure_cadence(recording, rig, asked.treadles, notes)
    done(0.55)
    twist = measure_twist(recording, rig, asked.plan, [*notes, *asked.plan_notes])
    done(0.7)
    health = check_health(recording, rig, notes)
    done(0.85)
    drawn = courses(recording, rig, ratio, slip, cadence)
    done(1.0)
    return FullReport(
        recording.capture,
        _about(asked),
        ratio,
        slip,
        cadence,
        twist,
        health,
        _planned(asked, ratio, cadence.mean_hz.value if cadence.mean_hz is not None else _USUAL_HZ),
        drawn,
        budget(ratio, slip, cadence, twist),
    )


def make_pair(first: Asked, second: Asked, done: Callable[[float], None] = lambda share: None) -> PairReport:
    """Return two logs' full reports and what changed between them; both have the first one's references."""
    a = make_report(first, lambda share: done(0.35 * share))
    b = make_report(second, lambda share: done(0.35 + 0.35 * share))
    sides = [Side(x.recording, x.rig, x.notes) for x in (first, second)]
    change = compare_logs(sides[0], sides[1], first.references)
    done(1.0)
    return PairReport(a, b, change)


def _about(asked: Asked) -> About:
    header = asked.recording.log.header
    shown = tuple((e.key, e.value) for e in header.entries if e.key and e.key not in ("sync", "length", "mark"))
    marked = tuple(("mark", m.text) for m in header.marks if m.text)
    said = (header.board or "", header.note or "")
    simulated = any(text.strip().lower().startswith(_SIMULATED) for text in said)
    return About((*shown, *marked), simulated, tuple(asked.files), __version__, asked.place, header.started)


def _planned(asked: Asked, ratio: RatioReport, cadence_hz: float) -> PlanReport | None:
    """The plan on the ratios that were measured, then on the wheel file's whorls that were not spun on."""
    if asked.plan is None:
        return None
    measured = tuple(Whorl(w.name, ratio=w.ratio.value, ratio_u=w.ratio.u) for w in ratio.whorls)
    spun = {w.name for w in measured}
    rest = tuple(w for w in asked.rig.whorls if w.name is None or w.name not in spun)
    rig = replace(asked.rig, whorls=(*measured, *rest))
    cadence_hz = float(f"{60.0 * cadence_hz:.3g}") / 60.0  # as one would say it
    return reckon_plan(asked.recording.capture, asked.plan, rig, (), cadence_hz, None, asked.plan_notes)
