"""The pages of the sample captures: what was simulated and what to expect, every figure from the simulated truth."""

from __future__ import annotations

import textwrap

from samples import SEED, Sample

from whorlpulse.simulate import Capture, Truth

MADE_BY = "python tests/project/regenerate_samples.py"


def _wrapped(text: str) -> list[str]:
    """Wrap a paragraph to lines, the command in one piece."""
    whole = text.replace(MADE_BY, MADE_BY.replace(" ", "\0"))
    lines = textwrap.wrap(whole, 118, break_long_words=False, break_on_hyphens=False)
    return [line.replace("\0", " ") for line in lines]


def _tpi(twist_tpm: float) -> float:
    return twist_tpm * 0.0254  # an inch is 25.4 mm


def notes(name: str, sample: Sample, capture: Capture) -> str:
    """Return the NOTES.md of one capture."""
    changed = f", {sample.changed}" if sample.changed else ""
    same = "" if sample.changed else f"; `whorlpulse simulate {sample.like} --seed {SEED}` makes the same log"
    return "\n".join(
        [
            f"# {name}",
            "",
            *_wrapped(
                "**Simulated.** There was no wheel, no sensor and no spinner: the bench and what happens at it are"
                f" invented. Scenario `{sample.like}` of the simulator{changed}; seed {SEED}."
                f" Made by `{MADE_BY}`{same}."
            ),
            "",
            *_wrapped(sample.tells),
            "",
            "## What to expect",
            "",
            *_wrapped(
                "The figures here are what the simulation really did (all of it is in `truth.json`); the commands see"
                " the log alone."
            ),
            "",
            *_ratio(sample, capture.truth),
            *_twist(sample, capture),
            *_check(sample, capture.truth),
        ]
    )


def _ratio(sample: Sample, truth: Truth) -> list[str]:
    lines = ["`whorlpulse ratio log.pulses --wheel wheel.toml`", ""]
    if sample.ratio_bar is None:
        really = f"the shafts really made {truth.ratio:.4f} : 1"
        return [*lines, f"`ratio` {sample.ratio_says}; {really}.", ""]
    lines += ["| run | from, s | to, s | wheel turns | ratio | whorl |", "| --- | --- | --- | --- | --- | --- |"]
    for i, run in enumerate(truth.runs, 1):
        span = f"{run.start_s:.1f} | {run.end_s:.1f} | {run.wheel_turns:.1f}"
        lines.append(f"| {i} | {span} | {run.ratio:.4f} : 1 | {run.whorl} |")
    told = f"Each ratio within {100 * sample.ratio_bar:g} % of this, and the whorl's name beside it."
    ends = "The answer leaves out the turns at both ends, where the wheel speeds up and runs down."
    return [*lines, "", *_wrapped(f"{told} {ends}"), ""]


def _twist(sample: Sample, capture: Capture) -> list[str]:
    truth = capture.truth
    if sample.twist_bar is None:
        return ["No yarn was spun, so `twist` has no length and asks for `--total LENGTH`.", ""]
    lines = [
        f"`whorlpulse twist log.pulses {' '.join(sample.twist_options)}`",
        "",
        f"{_tpi(truth.twist_tpm):.3f} tpi ({truth.twist_tpm:.1f} tpm) in {truth.length_m:.2f} m of yarn; the mean"
        f" within {100 * sample.twist_bar:g} %, on plan as a whole.",
    ]
    for s in truth.off_plan:
        tpi = _tpi(s.twist_tpm)
        lines.append(f"Off plan from {s.from_m:.1f} to {s.to_m:.1f} m at {tpi:.1f} tpi, both ends within 0.3 m.")
    if not truth.off_plan:
        lines.append("No stretch is off plan.")
    return [*lines, "", "`whorlpulse plan plan.toml --wheel wheel.toml` says what that plan asks of each whorl.", ""]


def _check(sample: Sample, truth: Truth) -> list[str]:
    found = ", ".join(f"`{f}`" for f in sample.findings)
    lines = ["`whorlpulse check log.pulses`", "", f"Findings: {found} ([what they mean](../../docs/findings.md))."]
    faults = [
        f"channel {c}: {r.missed} missed, {r.doubled} doubled, {r.bounced} bounced"
        for c, r in truth.reports.items()
        if r.missed or r.doubled or r.bounced
    ]
    if faults:
        lines.append(f"Put in were: {'; '.join(faults)}.")
    if any(truth.lines.values()):
        n = truth.lines
        lines.append(
            f"Put in were: {n['lost']} lines lost, {n['garbled']} garbled, {n['torn']} torn,"
            f" {n['unheard_pulses']} pulses never sent."
        )
    uneven = [s for s in truth.scenario.sensors if len(s.angles) > 1]
    if uneven and sample.twist_bar is None:
        angles = "; ".join(f"{s.channel} {', '.join(f'{360 * a:.0f}°' for a in s.angles)}" for s in uneven)
        lines.append(f"The targets stand at {angles}, counted from any one of them; within 1°.")
    return [*lines, ""]


def overview(made: dict[str, tuple[Sample, Capture]]) -> str:
    """Return the README.md of the folder."""
    rows = []
    for name, (sample, capture) in made.items():
        ratios = ", ".join(f"{run.ratio:.3f}" for run in capture.truth.runs)
        tpm = capture.truth.twist_tpm
        twist = "–" if tpm is None else f"{_tpi(tpm):.3f}"
        rows.append(f"| [{name}]({name}/NOTES.md) | {ratios} | {twist} | {', '.join(sample.findings)} |")
    return "\n".join(
        [
            "# Sample captures",
            "",
            *_wrapped(
                "**All of them are simulated**: an invented bench with an unlabelled wheel and three whorls. Each"
                " folder has the log, the wheel file, the plan where yarn was spun, the simulated truth, and a page"
                " with what to expect."
            ),
            "",
            "| capture | true ratio of each run | true tpi | `check` finds |",
            "| --- | --- | --- | --- |",
            *rows,
            "",
            *_wrapped(
                f"`{MADE_BY}` makes them anew; a test holds them equal to what the simulator makes, and the commands'"
                " answers to the truth."
            ),
            "",
        ]
    )
