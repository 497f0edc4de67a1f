"""What a log's slip means: the rules from figures to findings, with their confidence.

Confidences are the shares that were right among a thousand simulated wheels with known faults, all equally often
(docs/slip-confusion.md): near 1 where only one thing makes such figures, about a half where another cause looks the
same. Sizes that part healthy from not are common practice, no source, checked on the same wheels.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import isfinite, sqrt
from typing import TYPE_CHECKING

from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.slip import SlipEstimate, WhorlSlip, band_order
from whorlpulse.estimators.slip_events import Burst
from whorlpulse.estimators.slip_periodic import Line
from whorlpulse.findings import by_design
from whorlpulse.findings.catalogue.slip import INFORMATION, LACKING, LOADS, OWN
from whorlpulse.findings.report import Finding
from whorlpulse.rig import Rig

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure

#: A band that creeps more than this gives noticeably less twist (shares of the ratio).
_CREEPS, _HEALTHY_CREEP = 0.01, 0.02
#: Of a creeping band's loss at least this part goes with its load; of a wrong reference's less than that.
_GOES_WITH_LOAD, _GOES_WITH_NOTHING = 0.25, 0.10
#: A constant shortfall below this is within what ordinary bands creep.
_NOTICEABLE_OFF = 0.01
#: A wrong reference makes a shortfall that does not scatter: what the load does to it is known to this part of it.
_STEADY = 0.018
#: A loss above this is no creep any more, but slip that was not seen as such.
_MOST_CREEP = 0.10
_NOTICEABLE_SWING = 0.003
_NOTICEABLE_LINE, _NOTICEABLE_WHEEL = 0.001, 0.003
_ENOUGH_TURNS = 30.0
_HARD = 0.9
_WHOLE = 0.08


def slip_findings(
    found: SlipEstimate, rig: Rig, *, missing_share: float, bobbin: float | None = None
) -> tuple[Finding, ...]:
    """Return the findings, faults first and surer ones before others.

    missing_share: share of wheel and flyer pulses that were missed or extra. bobbin: its turns for each of the flyer's.
    """
    if found.slip is None:
        return ()
    blurred = by_design.blurs(found, rig)
    said = [*_bursts(by_design.while_held(found) if blurred else found, rig, missing_share)]
    for whorl in found.whorls:
        said += [*_lines(whorl, found, rig), *_creep(whorl), *_drag(whorl), *_reference_off(whorl)]
    said = _one_each(said)
    if blurred:
        said = by_design.unblurred(said)
    said += by_design.of_tension(found, rig, bobbin)
    if found.slip.half_width >= abs(found.slip.value):
        said += _undecided(found)
    if not blurred and not any(f.id not in INFORMATION for f in said):
        said += _healthy(found, rig)
    return tuple(sorted(said, key=lambda f: (f.id in INFORMATION, -f.confidence)))


def _one_each(said: list[Finding]) -> list[Finding]:
    """Of findings of one kind about several whorls the surest."""
    best: dict[str, Finding] = {}
    for f in said:
        if f.id not in best or f.confidence > best[f.id].confidence:
            best[f.id] = f
    return list(best.values())


def _bursts(found: SlipEstimate, rig: Rig, missing_share: float) -> Iterator[Finding]:
    bursts = found.bursts
    if not bursts:
        return
    figures = _figures_of(found)
    whole = [b for b in bursts if _whole_target(b, rig.targets["f"])]
    doubtful = bool(whole) and missing_share > 0.003
    if doubtful:
        figures["whole"] = len(whole)
    # Sensors miss whole targets; slip loses any part. So what is no whole number of them is surely slip.
    sure = len(bursts) - (len(whole) if doubtful else 0)
    confidence = 0.97 if sure >= 2 else 0.4 if sure == 1 else 0.2
    yield Finding("slip-bursts", confidence, figures)


def _figures_of(found: SlipEstimate) -> dict[str, Figure]:
    """How many bursts there are, what they lost, and when they came."""
    bursts = found.bursts
    largest = max(bursts, key=lambda b: b.lost)
    counted = [b for b in bursts if b.counted]
    due = sum(w.reference.ratio.value * w.wheel_turns for w in found.whorls)
    figures: dict[str, Figure] = {
        "lost": Measured(sum(b.lost for b in bursts), sqrt(sum(b.lost_u**2 for b in bursts))),
        "times": len(bursts),
        "largest": largest.lost,
        "largest_s": largest.start_s,
        "percent": 100.0 * sum(b.lost_counted for b in bursts) / due,
    }
    if len(counted) < len(bursts):
        figures["started"] = len(bursts) - len(counted)
    if any(b.winding is not None for b in bursts):
        figures["winding"] = sum(b.winding is True for b in bursts)
    hard = sum(b.harder > _HARD for b in bursts)
    if hard:
        figures["hard"] = hard
    return figures


def _whole_target(burst: Burst, targets: int) -> bool:
    passages = burst.lost * targets
    return round(passages) >= 1 and abs(passages - round(passages)) < _WHOLE


def _swing(whorl: WhorlSlip) -> float:
    """By how much the loss changes with all loads that it surely goes with."""
    return sqrt(sum(t.swing**2 for t in whorl.tracked if t.sure and t.swing > 0.0))


def _creep(whorl: WhorlSlip) -> Iterator[Finding]:
    swing = _swing(whorl)
    sure = [t for t in whorl.tracked if t.sure and t.swing > 0.0]
    figures: dict[str, Figure] = {
        "loads": _listed(t.load for t in sure),
        "change_points": 100.0 * swing,
    }
    if whorl.creep is None:
        if swing > _CREEPS:
            yield Finding("band-creeps", 0.7, {**figures, "creep": 100.0 * swing, "own": OWN})
        return
    if whorl.creep.low <= 0.0 or whorl.creep.value < _CREEPS or swing < _GOES_WITH_NOTHING * whorl.creep.value:
        return
    goes_with_load = swing >= _GOES_WITH_LOAD * whorl.creep.value
    certain = whorl.creep.low > _CREEPS and whorl.creep.value < _MOST_CREEP
    confidence = (0.9 if certain else 0.6) if goes_with_load else 0.4
    yield Finding("band-creeps", confidence, {**figures, "creep": whorl.creep.times(100.0)})


def _listed(loads: Iterable[str]) -> str:
    """Loads in words: a, b and c."""
    named = [LOADS[load] for load in loads]
    return " and ".join([", ".join(named[:-1]), named[-1]] if len(named) > 1 else named)


def _drag(whorl: WhorlSlip) -> Iterator[Finding]:
    loads = {t.load: t for t in whorl.tracked if t.sure and t.swing > _NOTICEABLE_SWING}
    loads.pop("acceleration", None)
    if not loads:
        return
    figures: dict[str, Figure] = {"loads": _listed(loads)}
    for name, key in (("winding", "winding_points"), ("speed", "speed_points")):
        if name in loads:
            figures[key] = Measured(100.0 * loads[name].swing, 100.0 * loads[name].swing_u)
    yield Finding("drag", 0.5, figures)


def _reference_off(whorl: WhorlSlip) -> Iterator[Finding]:
    """A shortfall that tracks nothing, or a surplus."""
    creep = whorl.creep
    if creep is None or whorl.wheel_turns < _ENOUGH_TURNS:
        return
    figures: dict[str, Figure] = {
        "reference": whorl.reference.ratio,
        "creep": Measured(100.0 * abs(creep.value), 100.0 * creep.u, creep.dof),
    }
    if creep.high < 0.0:
        yield Finding("reference-off", 0.95, {**figures, "above": figures["creep"]})
        return
    swing = _swing(whorl)
    by_lines = sum(line.share for line in whorl.lines if line.source != "wheel")
    if creep.low <= 0.0 or creep.value < _NOTICEABLE_OFF or not whorl.tracked:
        return
    if swing < _GOES_WITH_NOTHING * creep.value and by_lines < 0.3 * creep.value:
        steady = max(t.swing_u for t in whorl.tracked) < _STEADY * creep.value
        confidence = 0.2 if whorl.reference.source == "other-capture" or not steady else 0.9
        yield Finding("reference-off", confidence, {**figures, "change_points": 100.0 * swing})


def _lines(whorl: WhorlSlip, found: SlipEstimate, rig: Rig) -> Iterator[Finding]:
    for line in whorl.lines:
        figures: dict[str, Figure] = {
            "size": Measured(100.0 * line.share, 100.0 * line.share_u),
            "order": Measured(line.per_wheel_turn, line.u),
            "period_s": found.turn_s / line.per_wheel_turn,
            "targets": rig.targets["w"],
        }
        sure = line.share > 6.0 * line.share_u
        if line.source == "wheel":
            yield from _wheel(line, whorl, figures)
        elif line.share < _NOTICEABLE_LINE:
            continue
        elif line.source == "band":
            order, order_u = band_order(rig)
            figures |= {"expected": Measured(order, order_u)}
            if line.multiple > 1:
                figures["multiple"] = line.multiple
            yield Finding("band-joint", 0.97 if sure and line.multiple == 1 else 0.3, figures | _alias(line))
        else:
            if not isfinite(band_order(rig)[0]):
                figures["lacking"] = LACKING
            yield Finding("periodic-loss", 0.65 if sure else 0.4, figures | _alias(line))


def _alias(line: Line) -> dict[str, Figure]:
    return {"alias": line.aliases[0]} if line.aliases else {}


def _wheel(line: Line, whorl: WhorlSlip, figures: dict[str, Figure]) -> Iterator[Finding]:
    if line.share < _NOTICEABLE_WHEEL:
        return
    # A share A of the ratio once a turn shifts targets by A/(2π) of a turn.
    figures = {**figures, "off_deg": 360.0 * line.share / 6.283185307}
    pushed = [t.once_a_turn for t in whorl.tracked if t.load == "acceleration" and t.sure]
    if pushed and pushed[0] > 0.1 * line.share:
        figures["pushed"] = 100.0 * pushed[0]
    yield Finding("wheel-untrue", 0.3 if "pushed" in figures else 0.4, figures)


def _undecided(found: SlipEstimate) -> Iterator[Finding]:
    assert found.slip is not None
    assert found.reference is not None
    if found.reference.source == "this-capture":
        return
    by_reference = found.reference.ratio.u / found.reference.ratio.value * (1.0 - found.slip.value)
    part = min(100.0 * by_reference**2 / found.slip.u**2, 100.0)
    figures: dict[str, Figure] = {"slip": found.slip.times(100.0)}
    if part >= 50.0:
        figures |= {"reference": found.reference.ratio, "reference_percent": part}
    else:
        figures["log_percent"] = 100.0 - part
    if found.bursts:
        figures["bursts"] = len(found.bursts)
    yield Finding("slip-undecided", 0.95, figures)


def _healthy(found: SlipEstimate, rig: Rig) -> Iterator[Finding]:
    if found.unseen:
        return  # in counts neither bursts nor rhythms show
    swing = max((_swing(w) for w in found.whorls), default=0.0)
    if sum(w.wheel_turns for w in found.whorls) < _ENOUGH_TURNS or swing > _CREEPS:
        return
    if found.creep is None:
        yield Finding("band-healthy", 0.75, {"change_points": 100.0 * swing, "own": OWN})
    elif found.creep.high < _HEALTHY_CREEP:
        # With one target a turn, what comes once a wheel turn can't be seen at all.
        confidence = 0.7 if rig.targets["w"] == 1 else 0.9
        yield Finding("band-healthy", confidence, {"creep": found.creep.times(100.0), "change_points": 100.0 * swing})
