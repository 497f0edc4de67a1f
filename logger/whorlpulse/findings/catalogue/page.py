"""What the report page says beside the answers: titles, what each picture shows, where a ± comes from, cautions."""

from __future__ import annotations

from typing import Final

TITLES: Final = {
    "page": "{capture}: what the log says",
    "pair": "{first} and {second}: what changed",
    "answer": "In short",
    "look": "Worth a look",
    "twist": "The yarn",
    "whorls": "The whorls",
    "ratio": "The ratio",
    "slip": "The band",
    "cadence": "The treadling",
    "health": "Health of the data",
    "budget": "Where the ± come from",
    "method": "How it was measured",
    "cautions": "Cautions",
    "change": "What changed",
    "both": "Both logs in pictures",
}

#: What each asker is told the page is for.
FOR: Final = {
    "spinner": "for the spinner: yarn and plan first",
    "repairer": "for the repairer: band and sensors first",
    "teacher": "for the teacher: treadling first",
}

#: The tiles of the answer: what the figure is of, and the words below it.
TILES: Final = {
    "twist": "twist in the yarn",
    "ratio": "flyer turns per wheel turn",
    "ratio-several": "whorls measured, flyer turns per wheel turn",
    "slip": "of the flyer's turns lost by the band",
    "cadence": "wheel turns a minute",
    "unknown": "not known: {why}.",
    "unknown-too": "not known, for the same reason",
    "in-part": "{verdict}: {stretches}",
    "steady": "steady to {percent} %",
    "of-plan": "plan {tpi} tpi, from {low} to {high}",
    "against": "against {reference} : 1 without slip, {source}",
    "whorl": "{name}",
    "turns": "over {wheel} wheel turns",
    "turns-runs": "over {wheel} wheel turns in {runs} runs",
}

#: Titles of the pictures by the names that --chart knows.
CHARTS: Final = {
    "ratio": "Ratio along the runs",
    "loss": "Loss along the runs",
    "rhythm": "Loss that comes round with a rhythm",
    "angle": "Loss against the wheel's angle",
    "cadence": "Cadence along the log",
    "turn": "Speed within a wheel turn",
    "twist": "Twist along the yarn",
}

#: What stands in place of each picture for whoever can't see it, and what it shows.
SHOWS: Final = {
    "ratio": (
        "Flyer turns for each wheel turn, against wheel turns. Grey: turn by turn. Blue: each run's ratio over the "
        "band in which another such run should come out, 95 %."
    ),
    "ratio-no-slip": "Dashed: the wheel file's ratio without slip.",
    "ratio-no-slip-far": "The wheel file's ratio without slip, {ratio}, lies outside the picture.",
    "ratio-range": "Turn by turn it goes from {low} to {high}.",
    "ratio-whorl": "{name}: turn by turn from {low} to {high}.",
    "loss": (
        "What part of the flyer's turns is lost, turn by turn, against wheel turns; at 0 the band loses nothing "
        "against {reference}."
    ),
    "loss-bursts": "Diamonds are bursts, {bursts} in all; the largest lost {largest} flyer turns at {at_s} s.",
    "loss-bursts-one": "The diamond is a burst: it lost {largest} flyer turns at {at_s} s.",
    "loss-some": "Drawn are the largest of each part of the log, {shown}.",
    "loss-outside": "Hollow ones came while the wheel started or ran down, where no turn is drawn.",
    "loss-none": "There are no bursts in it.",
    "loss-range": "It goes from {low} to {high} %.",
    "rhythm": (
        "The loss folded on {what}, {order} times a wheel turn: points are the mean of each part of the round with ± "
        "95 %, the line is a sine through them. It rises and falls by {size} % of the ratio."
    ),
    "rhythm-band": "the band's round",
    "rhythm-part": "a part of the band's round",
    "rhythm-unknown": "a rhythm of unknown source",
    "angle-bursts": (
        "Flyer turns lost in bursts by where the wheel stood, in sectors of 30° from its first target. Most were lost "
        "from {low}° to {high}°: {most} of {total} turns."
    ),
    "angle-targets": (
        "Flyer turns from each wheel target to the next against even spacing, in per cent: from {low} to {high} %. "
        "A wheel out of true makes a wave of this; targets out of place look the same."
    ),
    "cadence": (
        "Wheel turns a minute, turn by turn, against seconds of the log; the line is the mean, {mean} a minute. Turn "
        "by turn it goes from {low} to {high}."
    ),
    "turn": (
        "The wheel's speed against its angle, as a part of the mean, over {turns} turns, with its 95 % band. "
        "It is slowest at {slow} and fastest at {fastest}, and swings by {swing} %."
    ),
    "turn-unsure": (
        "The wheel's speed against its angle, as a part of the mean, over {turns} turns, with its 95 % band. "
        "The swing of {swing} % does not stand out of its noise."
    ),
    "twist": "Turns per inch (left) and per metre (right) against metres along the yarn, in steps of {step} m.",
    "twist-plan": "The pale band is the plan.",
    "twist-off": "Off plan: {stretches}.",
    "twist-off-one": "{start} to {stop} m {verdict}",
    "twist-on": "No stretch is off plan.",
    "hint": "Drag it sideways to move, shift and wheel to zoom, double-click to see all of it again.",
    "figures": "The figures",
    "same-scales": "Each pair of pictures has the same scales.",
}

AXES: Final = {
    "wheel-turns": "wheel turns of the log's runs",
    "ratio": "flyer turns per wheel turn",
    "loss": "lost, % of the flyer's turns",
    "round": "part of the round",
    "rhythm": "lost, % of the ratio",
    "angle": "wheel angle from its first target, °",
    "lost": "flyer turns lost",
    "uneven": "off even spacing, %",
    "seconds": "seconds of the log",
    "cadence": "wheel turns a minute",
    "speed": "speed over mean, %",
    "metres": "metres along the yarn",
    "tpi": "turns per inch",
    "tpm": "turns per metre",
    "no-slip": "without slip {ratio}",
    "reference": "without slip",
    "mean": "mean",
    "plan": "plan",
    "whorl": "{name}, {ratio} : 1",
}

#: Why a picture is not there.
NOT_DRAWN: Final = {
    "ratio": "No ratio, so no picture of it: {why}.",
    "loss": "No picture of the loss: {why}.",
    "loss-unseen": "No picture of the loss: the log's lines stand for several turns each.",
    "rhythm": "No rhythm was found in the loss, so nothing is folded.",
    "rhythm-few": "A rhythm was found, but the turns are too few, or too far apart, to draw its round.",
    "rhythm-no-slip": "No picture of a rhythm: {why}.",
    "angle": (
        "No burst was found, and with fewer than four wheel targets a loss that repeats with the wheel's angle can't "
        "be told, so there is no picture of it."
    ),
    "angle-no-slip": "No picture of the loss against the wheel's angle: {why}.",
    "cadence": "No picture of the cadence: {why}.",
    "turn": "No picture of the turn; the notes below say why.",
    "twist": "No picture of the yarn: {why}.",
    "twist-total": "With one total length there is no picture along the yarn.",
}

QUANTITIES: Final = {"ratio": "ratio", "slip": "slip", "cadence": "cadence", "twist": "twist"}

CAUSES: Final = {
    "timing": "how exactly the sensors and the board's clock time a run's two ends",
    "log": "the band's own wandering in this log",
    "reference": "the reference",
    "clock": "the board's clock",
    "feet": "the feet's own wandering",
    "length": "the length of the yarn",
    "turns": "where the flyer stood at both ends of the count",
}

BUDGET: Final = {
    "halve-ratio": "Twice as many wheel turns in a run.",
    "halve-slip-own": (
        "A reference from outside this log (--reference or --wheel): against its own best stretches the ± is not all "
        "of the doubt."
    ),
    "halve-slip-reference": "A reference known twice as well: a slow, unloaded log with the band freshly set.",
    "halve-slip-log": "A log about four times as long.",
    "halve-feet": "A log about four times as long.",
    "halve-sync": "Sync lines over twice the time.",
    "halve-clock": "Sync lines in the log, from a host that stays connected.",
    "halve-length": "A length known twice as well: more yarn, or a better measured roller or skein.",
    "halve-turns": "Twice as much yarn.",
    "share": "{percent} %",
    "points": "{points} points",
    "intro": "Of the variance of each answer, the part that each cause makes (GUM); and what would halve the ±.",
}

HEADS: Final[dict[str, tuple[str, ...]]] = {
    "whorls": ("whorl", "measured ratio", "without slip", "runs"),
    "draft": ("draft per treadle", "m an hour"),
    "runs": ("run", "from, s", "to, s", "wheel turns", "turns a minute", "ratio"),
    "parts": ("whorl", "slip, %", "creep, %", "ratio without bursts", "without slip"),
    "bursts": ("burst at, s", "wheel turn", "flyer turns lost"),
    "periodic": ("times a wheel turn", "rises and falls by, %", "source"),
    "channels": ("channel", "pulses", "missed", "extra", "targets", "timing noise, µs"),
    "budget": ("answer", "±", "mostly from", "what would halve it"),
    "along": ("from, m", "to, m", "tpi", "tpm"),
    "profile": ("angle, turns", "speed over mean, %"),
}

SAYS: Final = {
    "simulated": (
        "Simulated data: this log says itself that it comes from the simulator, from an invented wheel on an invented "
        "bench. No figure on this page was measured on a real wheel."
    ),
    "no-answer": "This log answers none of the questions. What stands in the way is said below.",
    "not-known": "not known",
    "not-known-too": "Not known, for the same reason.",
    "why": "Why",
    "try": "Try",
    "sure": "{percent} % sure",
    "none-found": "Nothing that needs looking after was found in band, sensors or log.",
    "whorls-plan": (
        "Draft per treadle: the yarn to draw out in a turn of the wheel so that {tpi} tpi go in at the ratio shown; "
        "metres an hour at {cadence} wheel turns a minute, treadling only."
    ),
    "whorls-not-spun": "not in this log",
    "whorls-no-plan": "With a plan (--plan FILE) this table also says how much to draft per treadle.",
    "plan-is": "The plan: {tpi} tpi ({tpm} tpm), {direction} twist, ± {tolerance} %; on plan from {low} to {high} tpi.",
    "lines": (
        "{total} lines: {pulses} pulses, {malformed} malformed, {bad_checksum} with a wrong checksum, {lost} lost on "
        "the way."
    ),
    "torn": "The last line is torn.",
    "duration": "The log lasts {seconds} s.",
    "rounding": (
        "The figure after ± is half of a 95 % interval. No figure is shown to more digits than its ± supports; figures "
        "without a ± of their own have three digits."
    ),
    "ratio": (
        "Ratio: flyer turns over wheel turns between passages of the same wheel target, by least squares for a "
        "drifting level seen through timing noise."
    ),
    "slip": "Slip: one less ratio over the ratio without slip. Creep is what is left without bursts.",
    "cadence": "Cadence: whole wheel turns over the time they took, starting up and running down left out.",
    "twist": "Twist: flyer turns over the length of yarn that took them up, per twisted length as in ISO 2061.",
    "version": "whorlpulse {version}; everything here can be computed again from the log, which is unaltered.",
    "wheel-given": "Wheel file: {name}.",
    "wheel-beside": "Wheel file: {name}, found beside the log.",
    "plan-given": "Plan file: {name}.",
    "plan-beside": "Plan file: {name}, found beside the log.",
    "metadata": "What the log says of itself",
    "metadata-more": "and {more} more lines",
    "more-runs": "and {more} more; whorlpulse ratio --json has them all.",
    "more-bursts": "and {more} more; whorlpulse slip --json has them all.",
    "recorded": "recorded {started}",
    "is-first": "before: {name}",
    "is-second": "after: {name}",
    "notes": "Notes",
}

CAUTIONS: Final = (
    "Keep fingers, hair, sleeves and drive bands apart while the wheel turns. Stop it before you fit or touch a "
    "sensor, the band or the brake.",
    "Magnets: tape or glue them and test slowly, opposite pairs on a flyer so that it stays balanced. Keep small ones "
    "from children and animals: swallowed magnets injure. Keep all of them from pacemakers and other implants.",
    "USB power only, no mains at the wheel. For anything mains-powered, such as a motor-driven wheel, follow the local "
    "electrical code and ask a qualified person.",
    "A finding is a hint for a person who knows the wheel, not a safety certificate.",
)

ERRORS: Final = {
    "output-needed": "say where to write with -o: a name that ends in .html or .pdf, or with --chart in .svg or .png",
    "output-kind": "-o {file}: the name must end in .html or .pdf; .svg and .png are for one chart, with --chart NAME",
    "chart-kind": "-o {file}: --chart writes .svg or .png",
    "which-chart": "{given}: name a chart: {names}",
    "chart-unsaid": "{capture}: the chart {name} can't be drawn: {why}",
    "chart-one-log": "--chart draws one log: leave the second one out",
    "demo-kind": "--report {file}: the name must end in .html",
    "for": '--reader "{given}": write spinner, repairer or teacher',
    "paper": '--paper "{given}": write A4 or Letter',
    "too-many": "a report is of one log, or of two to compare: {count} were given",
    "no-browser": (
        "a PDF takes an installed Chromium-like browser, and none was found: write a .html and print that, or name one "
        "in WHORLPULSE_BROWSER"
    ),
    "browser-failed": "the browser {browser} made no PDF ({why}): write a .html and print that",
    "exists": "{file} exists already and is left as it is: name another file, or overwrite it with --replace",
    "written": "Written: {file}, {kilobytes} kB.",
}
