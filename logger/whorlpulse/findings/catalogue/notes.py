"""Sentences that stand beside an answer: what limits it, what was taken for granted, what was left out."""

from __future__ import annotations

from typing import Final

NOTES: Final = {
    # what limits a ratio
    "limit-tick": (
        "The ± comes from the board's clock, which steps by {tick_us} µs; twice as many wheel turns in a run would "
        "at least halve it."
    ),
    "limit-timing": (
        "The ± comes from how exactly the sensors time their targets ({timing_turns} of a flyer turn at each end of a "
        "run); twice as many wheel turns in a run would at least halve it."
    ),
    "limit-short": (
        "The ± is wide because the longest run has only {wheel_turns} wheel turns; treadle on without a stop for "
        "longer."
    ),
    "wander": (
        "The band does not hold its ratio to that digit: another run like run {run} should come out at {expected}."
    ),
    "several-whorls": ("The ratio of all turns together, {ratio}, mixes {whorls} whorls: go by the whorls' own."),
    "below-no-slip": "Whorl {name}: {percent} % below the {no_slip} that the wheel file gives it without slip.",
    "above-no-slip": (
        "Whorl {name}: {percent} % above the {no_slip} that the wheel file gives it without slip, which no slip can "
        "do: measure the diameters and the band again."
    ),
    "whorl-unnamed": "The ratio {ratio} : 1 is not within 8 % of any whorl in the wheel file.",
    "no-wheel-file": "Whorls have no names here: --wheel FILE would give them theirs.",
    "whorl-without-ratio": (
        "Whorl {name} can't be used: it needs a measured ratio, or its diameter with wheel_diameter and band_thickness."
    ),
    # what limits a twist
    "limit-length": (
        "{percent} % of the ± comes from the length, {length} m: a longer yarn or a better measure of it would help."
    ),
    "limit-turns": (
        "Most of the ± comes from where the flyer stood at both ends of the count: a longer yarn would help."
    ),
    "waiting": ("Flyer turns after the last take-up: {turns}. They wait in the drafted yarn and are not counted."),
    "left-out": (
        "Pieces of yarn left out, turns and length both, because lines were lost there: {pieces} ({seconds} s)."
    ),
    "length-ignored": "The log also has {what}; the {used} was used.",
    "no-along": "With one total length there is no profile along the yarn: fit a roller or write length lines for one.",
    "no-plan": "No plan was given: --plan FILE says whether this is the twist you wanted.",
    "no-spread": "The spread along the yarn is not said: it takes three windows of yarn.",
    # the log
    "lines-lost": "Lines lost on the way: {lost}. No count was carried across a gap.",
    "lines-damaged": "Damaged lines left out: {damaged}, the first of them line {line}.",
    "torn-tail": "The last line is torn (a power cut, a pulled plug); the log is used up to it.",
    "overruns": "The board lost pulses itself, and says so in {overruns} x lines. No count was carried across them.",
    "clock-went-back": ("The board's clock began anew at {seconds} s; both parts were used."),
    "header-value": 'Line {line}: {key} is "{value}": {why}; it was left aside.',
    "repaired": (
        "Missed pulses filled in: {filled}; left out as extra: {extra}, as bounces: {bounced}; each was judged by the "
        "other shaft."
    ),
    "idle": "Pulses that belong to no run, made while the wheel stood or was rolled by hand: {idle}.",
    "coarse": "Its lines stand for several pulses each, so nothing could be repaired.",
    # the plan
    "two-twists": ("The plan's twist was used; its twist_factor with its count would make {tpi} tpi ({tpm} tpm)."),
    "no-count": "Without count in the plan there is no helix angle, and no hours for a mass.",
    "no-whorls": "No whorl is known: give --wheel FILE, or --ratio once for each whorl.",
    "plies": "Twist and count are those of the singles; {plies} of them make the yarn.",
    "ply-twist": (
        "Ply the other way, {direction}, with about {tpi} tpi ({tpm} tpm): two thirds of the singles' twist, "
        "common practice."
    ),
    "pace": "Metres and hours count treadling only, at {cadence} wheel turns a minute: joins and rests come on top.",
    # the simulator and the demo
    "written": "Simulated; written to {folder}: {files}",
    "demo-whorl": "ratio on the {name} whorl",
    "demo-twist": "twist of the skein, turns/m",
    "demo-length": "yarn in the skein, m",
}
