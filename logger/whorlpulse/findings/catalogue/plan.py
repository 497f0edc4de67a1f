"""What `plan` says of the yarn's body, of the hands, of the twist that a draft makes, and of plying."""

from __future__ import annotations

from typing import Final

PLAN: Final = {
    "plan-body": ("{tex} tex ({grist} m/100 g, {ypp} yd/lb), {mm} mm thick; surface fibres at {angle}° to the yarn."),
    "plan-factors": "Twist factors: {tm} tm, {alpha_m} alpha_m, {alpha_tex} alpha_tex.",
    "plan-body-wraps": (
        "The thickness is one inch over the wraps, an approximation: turns that don't touch make it, the angle and a "
        "contraction by the helix too great. With the count that is a yarn of {density} g/cm³, its air included."
    ),
    "plan-body-fibre": (
        "Thickness and angle are those of a round yarn of {density} g/cm³ with its air, by fibre and packing."
    ),
    "plan-body-cotton": (
        "Thickness and angle are those of a round yarn of {density} g/cm³ with its air (printed for cotton); lofty "
        "yarn is thicker and its angle larger: give wraps_per_inch, or fibre and packing."
    ),
    "plan-count-by-wraps": (
        "The count is no more than an approximation from the wraps, anywhere from {low} to {high} tex (yards a pound "
        "are 4 to 8 times the square of the wraps an inch: common practice, no source). Weigh a measured length."
    ),
    "plan-count-by-density": (
        "The count is an approximation from the wraps and the density of fibre and packing. Weigh a measured length."
    ),
    "plan-angle-soft": "10° to 15° is usual for a soft yarn (common practice, no source).",
    "plan-angle-knitting": "15° to 25° is usual for a knitting yarn (common practice, no source).",
    "plan-angle-hard-wearing": "25° to 35° is usual for sock yarn and warp (common practice, no source).",
    "plan-contraction": (
        "Twisting takes {percent} % of the drafted length, as the plan says: drafts are before it, metres and hours "
        "after."
    ),
    "plan-helix-contraction": (
        "Twisting takes {percent} % of the drafted length if the fibres lie in the ideal helix: drafts are before it, "
        "metres and hours after."
    ),
    "plan-of-plied": (
        "The plan is of the finished yarn of {plies} plies; twist and count here are those of its singles."
    ),
    "plan-no-ply-rule": "For this many plies no rule for the ply twist is known here: give ply_twist in the plan.",
    "plan-ply-asked": (
        "Ply the other way, {direction}, with {tpi} tpi ({tpm} tpm), as the plan says: {percent} % of the singles' "
        "twist."
    ),
    "plan-suits": "With a draft of {low_cm} to {high_cm} cm per treadle this twist takes a ratio from {low} to {high}.",
    "plan-reverse": (
        "The twist of a draft is that of the ratio without slip; a slipping band makes less. The ± is that of ratio "
        "and draft as written."
    ),
    "plan-draft-suits": "Whorl {whorl} suits.",
    "plan-draft-too-little": "Whorl {whorl} gives less draft than that.",
    "plan-draft-too-much": "Whorl {whorl} asks for more.",
    "plan-plying": "Plying {plies} together, {direction}:",
    "plan-draws": "A draw of {draw} cm:",
    "plan-twist-of-draft": "A draft of {draft} cm per treadle makes:",
    "place-on-plan": "on plan",
    "place-under": "under plan",
    "place-over": "over plan",
    "place-undecided": "undecided",
    # the command line
    "no-such-whorl": '--whorl "{given}": {known}',
    "whorls-known": "known are {names}",
    "whorls-none-named": "no whorl has a name: give --wheel FILE",
}
