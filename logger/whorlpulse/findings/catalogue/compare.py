"""What `compare` says: verdicts, names of the rows, notes. "Before" is the first log, "after" the second."""

from __future__ import annotations

from typing import Final

#: Names of the rows, by what they compare.
ROWS: Final = {
    "slip": "slip, % of the turns",
    "creep": "  creep, %",
    "bursts-lost": "  bursts, %",
    "burst-rate": "bursts a minute",
    "lost-rate": "turns lost in them, /min",
    "rhythm": "rhythm {order}/turn, %",
    "rhythm-band": "band's round {order}/turn, %",
    "ratio": "ratio",
    "cadence": "turns a minute",
    "steadiness": "steady to, %",
    "twist": "twist, tpm",
    "twist-tpi": "twist, tpi",
}

#: Words for a sure difference upwards and downwards.
CHANGED: Final = {
    "slip": ("worse", "better"),
    "creep": ("worse", "better"),
    "bursts-lost": ("worse", "better"),
    "burst-rate": ("worse", "better"),
    "lost-rate": ("worse", "better"),
    "rhythm": ("worse", "better"),
    "ratio": ("higher", "lower"),
    "cadence": ("faster", "slower"),
    "steadiness": ("less steady", "steadier"),
    "twist": ("more", "less"),
}

NO_DIFFERENCE: Final = "not shown"
SLIGHT: Final = "slightly {changed}"
UNKNOWN: Final = "not known"
COLUMNS: Final = ("", "before", "after", "difference", "")

ANSWERS: Final = {
    "better": "better by {points} points, sure",
    "worse": "worse by {points} points, sure",
    "slightly-better": "better by {points} points: sure, but too little to notice",
    "slightly-worse": "worse by {points} points: sure, but too little to notice",
    "none": "no difference that these logs could show",
    "no-pair": "no whorl in common",
    "slip-is": "slip, after against before",
    "shows": "These logs would have shown {shows} points of slip or more.",
    "longer": (
        "To show {target} points they would have to be about {longer} times as long: {minutes} min of treadling each."
    ),
    "enough": "So there is no difference that would matter to the yarn ({least} points, common practice).",
    "parts": "But its parts have changed: {parts}.",
    "part-creep": "creep {changed} by {points} points",
    "part-bursts-lost": "bursts {changed} by {points} points",
    "ends": (
        "Differences are after less before; ± and brackets bound 95 %, for other such logs too and not only for these "
        "turns. Twist is that of the yarns made."
    ),
    "gone": "No longer found:",
    "new": "New:",
    "still": "Found in both:",
    "alone": "Only {which}: {ratios}",
    "before": "before",
    "after": "after",
}

NOTES: Final = {
    "no-common-whorl": (
        "No ratio of the first log has a partner in the second, so slip is not compared: record both on one whorl."
    ),
    "compare-own-reference": (
        "Without a reference the level of slip is not known, only its change; that holds as long as the whorl and the "
        "band's thickness are the same. --reference or --wheel would give the level."
    ),
    "compare-shared-reference": (
        "Both logs are held against one reference, so an error of it moves both levels alike and hardly touches the "
        "difference. Another band of another thickness would have another reference."
    ),
    "compare-far-apart": (
        "The ratios without bursts are {percent} % apart, which may as well be another whorl as another band or its "
        "tension."
    ),
    "compare-doubtful": (
        "{file}: the number of targets or the channels are doubtful, so its figures may all be wrong; see check."
    ),
    "compare-one-length": "{file} has no length of yarn, so twist is not compared.",
    "compare-two-clocks": (
        "The logs may come from two boards, each clock up to 0.5 % off: that is in the difference of the treadles."
    ),
}
