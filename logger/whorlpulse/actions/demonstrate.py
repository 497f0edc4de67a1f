"""The demo: simulate a bench log and a skein, measure both from their bytes alone, and set the truth beside."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from whorlpulse.actions.measure_ratio import measure_ratio
from whorlpulse.actions.measure_twist import measure_twist
from whorlpulse.actions.recording import Recording, read_recording
from whorlpulse.estimators.plan import YarnPlan
from whorlpulse.estimators.twist import SHORTEST_STRETCH_M
from whorlpulse.findings.report import Comparison, DemoReport, RunLine, note
from whorlpulse.rig import Rig
from whorlpulse.simulate import Capture, scenario, simulate

BENCH, SKEIN = "three-whorls", "skein-soft"
#: From a log to the rig and from a capture to its plan: text with units is read by the command line.
RigOf = Callable[[Recording, Capture], Rig]
PlanOf = Callable[[Capture], YarnPlan]


def demonstrate(seed: int, rig_of: RigOf, plan_of: PlanOf) -> tuple[DemoReport, dict[str, Capture]]:
    """Return the demo's report, and the two captures by scenario for whoever wants to keep them."""
    captures = {name: simulate(scenario(name), seed) for name in (BENCH, SKEIN)}
    bench, skein = captures[BENCH], captures[SKEIN]
    log = _read(bench)
    ratios = measure_ratio(log, rig_of(log, bench))
    log = _read(skein)
    plan = plan_of(skein)
    twist = measure_twist(log, rig_of(log, skein), plan)
    length_m, twist_tpm = skein.truth.length_m, skein.truth.twist_tpm
    if twist.found is None or length_m is None or twist_tpm is None:
        raise RuntimeError("the demo's skein could not be measured")
    report = DemoReport(
        seed=seed,
        bench=tuple(
            Comparison(
                note("demo-whorl", name=whorl.name or "unnamed"),
                whorl.ratio,
                _true_ratio(bench, [ratios.runs[i] for i in whorl.runs]),
            )
            for whorl in ratios.whorls
        ),
        skein=(
            Comparison(note("demo-twist"), twist.found.twist, twist_tpm),
            Comparison(note("demo-length"), twist.found.length, length_m),
        ),
        soft=twist.off_plan,
        true_soft=_true_off_plan(skein, plan),
        plan=plan,
    )
    return report, captures


def _read(capture: Capture) -> Recording:
    return read_recording(lambda: [capture.log], f"{capture.truth.scenario.name}.pulses")


def _true_off_plan(capture: Capture, plan: YarnPlan) -> tuple[tuple[float, float, float], ...]:
    """Return (from_m, to_m, turns/m) of the draws that really are off plan, neighbours together.

    More than what the scenario asks for: a draw that the log's end cuts short keeps all its turns in less yarn.
    """
    found: list[tuple[float, float, float]] = []
    for draw in capture.truth.along:
        if plan.low_tpm <= draw.twist_tpm <= plan.high_tpm:
            continue
        start, turns = draw.from_m, draw.flyer_turns
        if found and found[-1][1] == draw.from_m:
            before = found.pop()
            start, turns = before[0], turns + before[2] * (before[1] - before[0])
        found.append((start, draw.to_m, turns / (draw.to_m - start)))
    return tuple(s for s in found if s[1] - s[0] >= SHORTEST_STRETCH_M)


def _true_ratio(capture: Capture, runs: Sequence[RunLine]) -> float:
    """Return what the shafts really did while these runs were counted."""
    truth = capture.truth
    flyer = sum(float(truth.flyer_turns_at(r.end_s) - truth.flyer_turns_at(r.start_s)) for r in runs)
    return flyer / sum(float(truth.wheel_turns_at(r.end_s) - truth.wheel_turns_at(r.start_s)) for r in runs)
