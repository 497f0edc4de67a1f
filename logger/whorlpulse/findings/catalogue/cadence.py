"""What `cadence` says: the answer's words and its notes."""

from __future__ import annotations

from typing import Final

ANSWERS: Final = {
    "headline": "{cadence} turns a minute",
    "steady": "steady to {percent} %",
    "turns": "{turns} wheel turns in {seconds} s of treadling; runs: {runs}. The ± are 95 % sure.",
    "strokes": "With one treadle that is as many strokes.",
    "strokes-double": "With two treadles that is as many strokes of each foot.",
    "scatter": (
        "Steady to {overall} % (CV of the turns' durations): {drift} % slow drift, {quick} % from one turn to the next."
    ),
    "trend-up": "It quickens by {trend} turns a minute every minute.",
    "trend-down": "It slows by {trend} turns a minute every minute.",
    "trend-none": "No sure trend: {trend} turns a minute every minute.",
    "profile": (
        "Speed within a turn against its mean, by the part of a turn since the wheel's target passed its sensor; "
        "{turns} turns folded:"
    ),
    "swing": "Fastest at {fastest}, slowest at {slow}: the push makes {swing} % between them.",
    "swing-several": "Fastest at {fastest}, slow places at {slow}: the push makes {swing} % from slowest to fastest.",
    "swing-unsure": "No push stands out of the noise: from slowest to fastest it is {swing} %.",
    "stalls": "Stalls, turns that took far longer than their neighbours:",
    "stall": "at {start} s: {took} s instead of {usual} s",
    "stall-back": "at {start} s: {took} s instead of {usual} s, with more flyer turns than usual: it may have run back",
    "stalls-more": "and {more} more; --json has them all.",
}

NOTES: Final = {
    "limit-wander": (
        "The ± comes from how the cadence wanders within this log; treadling for longer would narrow it. Wandering "
        "slower than the log can't be seen in it."
    ),
    "limit-clock": "Most of the ± is the board's clock: whorlpulse record writes the sync lines that would tie it.",
    "limit-sync": "Most of the ± is how well the sync lines tie the board's clock; a longer log would tie it better.",
    "clock-fast": (
        "By its sync lines ({stamps}) the board's clock runs {percent} % fast; the cadence is corrected by as much."
    ),
    "clock-slow": (
        "By its sync lines ({stamps}) the board's clock runs {percent} % slow; the cadence is corrected by as much."
    ),
    "clock-right": (
        "By its sync lines ({stamps}) the board's clock is right to within {percent} %; the cadence is corrected by "
        "what they say."
    ),
    "clock-none": (
        "There are no sync lines, so the cadence goes by the board's clock, which may be off by up to 0.5 %; that is "
        "in the ±. Ratio and twist don't depend on it."
    ),
    "clock-too-few": (
        "The sync lines are too few or too close together to correct by, so the cadence goes by the board's clock, "
        "which may be off by up to 0.5 %; that is in the ±. Ratio and twist don't depend on it."
    ),
    "clock-unbelievable": (
        "The sync lines disagree with the board's clock by more than 10 %, which no clock does, so they were left "
        "aside: is tick_hz right? The ± allows for 0.5 %. Ratio and twist don't depend on it."
    ),
    "reversals": (
        "Sensors don't know which way a shaft turns, so reversals can't be counted: a wheel that ran back shows as a "
        "stall at most."
    ),
    "missed-or-stall": "Without the flyer a missed wheel pulse looks like a stall of twice the usual time.",
    "stops": "Stops between runs: {stops}. They are in no figure.",
    "treadles-not-told": "Whether one treadle or two was not told: --treadles single or double says it.",
    "mostly-twice": (
        "Within a turn the speed rises and falls mostly twice, as two treadles make it; the log alone can't prove it."
    ),
    "mostly-once": (
        "Within a turn the speed rises and falls mostly once, as one treadle makes it, or two with one foot stronger."
    ),
    "one-foot-stronger": (
        "Though two treadles were told, the speed rises and falls mostly once a turn: one foot pushes harder, or the "
        "wheel is out of balance."
    ),
    "single-pushes-twice": "Though one treadle was told, the speed rises and falls mostly twice a turn.",
    "profile-no-flyer": "There is no profile within the turn: that needs flyer pulses together with the wheel's.",
    "profile-coarse": (
        "The lines stand for several pulses each, so neither steadiness nor the profile within a turn can be told."
    ),
    "profile-few-laps": "There is no profile within the turn: that needs {needed} whole turns with flyer pulses.",
    "profile-same-angles": (
        "There is no profile within the turn: the flyer passes its sensor at too few wheel angles; a second flyer "
        "target or another whorl would help."
    ),
    "no-scatter": "Steadiness and trend are not said: they need eight whole turns or more.",
    "unlikely-pace": (
        "Nobody treadles at {cadence} turns a minute (common are 40 to 90): are wheel and flyer exchanged, or is the "
        "number of wheel targets another? whorlpulse check looks into it."
    ),
    "some-target": "With several wheel targets, angle 0 is one of them; which one can't be told.",
}

ERRORS: Final = {
    "treadles-option": '--treadles "{given}": write single or double',
}
