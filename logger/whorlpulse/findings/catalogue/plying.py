"""What `ply` says: the plied yarn against its singles and a plan, and how to ply to a balance."""

from __future__ import annotations

from typing import Final

PLYING: Final = {
    "ply-balanced": "{direction} ply, balanced",
    "ply-under": "{direction} ply, less than balances it",
    "ply-over": "{direction} ply, more than balances it",
    "ply-undecided": "{direction} ply; balanced or not, the ± can't tell",
    "ply-same-way": "{direction} ply on {singles} singles: the twists add up",
    "ply-to-do": "{direction} ply to put in, for {plies} plies",
    "ply-singles": "Singles: {tpi} tpi ({tpm} tpm), {direction}.",
    "ply-share": (
        "The ply has {percent} % of the singles' twist; about 67 % balances a two-ply (common practice, no source)."
    ),
    "ply-left": "Left in each single: {tpi} tpi ({tpm} tpm) {direction}, counted on the plied yarn.",
    "ply-left-unsure": "Left in each single: {tpi} tpi ({tpm} tpm), which is nothing within its ±.",
    "ply-more": "Another {tpi} tpi ({tpm} tpm) {direction} would bring it to two thirds.",
    "ply-less": "Two thirds would be {tpi} tpi ({tpm} tpm) less.",
    "ply-plan": "Plan: {tpi} tpi ({tpm} tpm) of ply, on plan from {low} to {high} tpi: {place}.",
    "ply-plan-singles": "The singles are {place}: {tpi} tpi ({tpm} tpm), from {low} to {high}.",
    "ply-count": "The plied yarn is then {tex} tex, by the plan's count.",
    "ply-length": "{length} m of plied yarn took {needed} m of each single, {total} m in all.",
    "ply-length-logs": "The singles' logs have {have} m.",
    "ply-whorls": "To ply with {tpi} tpi:",
    "ply-strand": "single",
    "ply-given": "as given",
    # notes
    "ply-of-singles-log": "Of the singles' log {name}:",
    "ply-of-ply-log": "Of the ply's log {name}:",
    "ply-direction": (
        "Sensors can't tell a direction: {singles} singles and {direction} ply are taken as stated, or as usual, the "
        "other way."
    ),
    "ply-rule-two": "Two thirds is the rule for two plies; for {plies} let a sample hang and see.",
    "ply-rested": (
        "Singles that have rested hide their twist: a ply that balances all of it looks too much until the yarn is "
        "washed (common practice, no source)."
    ),
    "ply-contraction": "Plying takes {percent} % of the singles' length, as given.",
    "ply-no-contraction": (
        "What plying takes of the singles' length is left out: each per cent would leave {tpi} tpi more in them; "
        "--contraction gives it."
    ),
    "ply-shared-roller": "One roller measured both: how long its turn is cancels in their share.",
    "ply-short-singles": (
        "The plied yarn took more than the log {name} has, {needed} m of {have} m: another bobbin was used too, or "
        "one of "
        "the lengths is wrong."
    ),
    # errors
    "ply-nothing": "give the singles' log and the ply's, or figures: --singles '8 tpi' --ply '5.3 tpi'",
    "ply-no-singles": ("the singles' twist is not known: give their log before the ply's, or --singles '8 tpi'"),
    "ply-twice": "the ply's twist is given twice, by --ply and by a log: leave one out",
    "ply-direction-option": '--direction "{given}": S or Z, as the singles were spun',
    "ply-contraction-option": "--contraction \"{given}\": write a percentage below 50, for example --contraction '3 %'",
}
