"""The words of the answers themselves: headlines, what they rest on, verdicts."""

from __future__ import annotations

from typing import Final

ANSWERS: Final = {
    # ratio
    "ratio-unit": "flyer turns per wheel turn, 95 % sure",
    "ratio-several": "{whorls} ratios, flyer turns per wheel turn; the ± below are 95 % sure.",
    "ratio-turns-one": "{flyer} flyer turns over {wheel} wheel turns in one run.",
    "ratio-turns": "{flyer} flyer turns over {wheel} wheel turns in {runs} runs.",
    # twist
    "twist-amount": "{turns} flyer turns in {length} m of yarn, {source}; the ± are 95 % sure.",
    "twist-spread": "Along the yarn the twist varies by {percent} % (CV).",
    "twist-plan": "Plan: {tpi} tpi ({tpm} tpm), on plan from {low} to {high} tpi.",
    "twist-profile": "Along the yarn, from its first metre:",
    "twist-profile-plan": "Along the yarn, from its first metre; │ are the plan's edges, ○ is off plan:",
    "length-roller": "measured by the roller",
    "length-marks": "from the log's length lines",
    "length-total": "as given for the whole",
    "length-bobbin": "wound on, by bobbin against flyer",
    "verdict-on-plan": "on plan",
    "verdict-on-plan-in-part": "on plan as a whole, but not everywhere",
    "verdict-under": "under plan",
    "verdict-over": "over plan",
    "verdict-undecided": "undecided: the ± reaches across the edge of the plan",
    "all-on-plan": "No stretch of it is off plan.",
    "off-plan": "Off plan:",
    "off-plan-stretch": "{start} to {stop} m: {tpi} tpi ({tpm} tpm), {verdict}",
    # plan
    "plan-headline": "{direction} twist, ± {tolerance} %",
    "plan-range": "On plan from {low} to {high} tpi.",
    "plan-yarn": "{tex} tex, surface fibres at {angle}° to the yarn.",
    # convert
    "tied-again": (
        "tied again: each sensor's times are within ± {after_ms} ms on the log's clock, before ± {before_ms} ms"
    ),
    # demo
    "demo-headline": "Two simulated captures, measured from their pulses alone",
    "demo-seed": "seed {seed}",
    "demo-about": (
        "A wheel without a label, one run on each of its three whorls; and a first skein, planned at {tpi} tpi. "
        "The truth is what the simulator did; the measurement never sees it."
    ),
    "demo-skein": "The skein has {twist} tpi, but not everywhere:",
    "demo-next": "Next:",
    "demo-next-simulate": "write such a capture to a folder",
    "demo-next-help": "what else there is",
}
