"""What `sample` says: twist found on the yarn itself, whether the log agrees, and what could explain it if not.

As in `sensors`, a sentence of the evidence stands only where all the figures in its braces are known.
"""

from __future__ import annotations

from typing import Final

from whorlpulse.findings.catalogue.sensors import FindingWords

SAMPLE: Final = {
    "sample-counted": "counted on {samples} samples of {gauge} cm",
    "sample-one": "counted on one sample of {gauge} cm",
    "sample-by-angle": "by surface angle and diameter",
    "sample-spread": "Samples vary by {percent} % (CV); the ± is 95 % sure for their mean.",
    "sample-angle": "Surface fibres at {angle}° on {mm} mm make {tpi} tpi ({tpm} tpm).",
    "sample-angle-of-count": "On {mm} mm that is a surface angle of {angle}°.",
    "sample-shortening": (
        "Untwisting gave back {percent} % of the drafted length; per drafted length the twist is {tpi} tpi."
    ),
    "sample-log": "Log: {tpi} tpi ({tpm} tpm). Yarn less log: {apart_tpi} tpi ({percent} %).",
    "sample-agree": "Yarn and log agree within {margin} %.",
    "sample-disagree": "Yarn and log disagree.",
    "sample-undecided": "Whether yarn and log agree within {margin} % is undecided.",
    "sample-plan": "Plan: {tpi} tpi, on plan from {low} to {high} tpi: the yarn is {place}.",
    "sample-explain": "What could explain it:",
    # notes
    "sample-iso": "Twist is turns over the length before untwisting, the gauge, as ISO 2061 counts it.",
    "sample-retwisted": "The counts are of untwisting and twisting up again: half of each was used.",
    "sample-single": (
        "One sample shows no spread, so there is no ± and nothing is compared: count at least two, better ten."
    ),
    "sample-enough": "About {samples} samples would make the ± {percent} %, at this CV.",
    "sample-places": (
        "Samples speak for the whole yarn only if they come from places that were not chosen by eye, all along it."
    ),
    "sample-angle-model": (
        "From the angle, twist is its tangent over pi times the diameter, for a round yarn and a true helix; hairy "
        "yarn shows too great a diameter and then too little twist."
    ),
    "sample-not-over-end": (
        "Drawing off over the end of that bobbin can't have done it all: it wins or loses {low} to {high} tpm."
    ),
    "sample-like-with-like": "The samples must be of what the log was spun to: singles with singles, plied with plied.",
    # errors
    "sample-nothing": (
        "give what was found on the yarn: --gauge '25 cm' --turns 48,50,47, or --angle 22 --diameter '0.8 mm'"
    ),
    "sample-gauge": "--turns needs --gauge, the length of yarn that was untwisted, for example --gauge '25 cm'",
    "sample-turns": "--{option} needs --turns, the turns counted",
    "sample-diameter": "--angle needs --diameter too, for example --diameter '0.8 mm'",
}

FINDINGS: Final = {
    "sample-over-end": FindingWords(
        "Yarn drawn off over a bobbin's end gains or loses one turn a wrap.",
        (
            "On the bobbin of {bobbin} cm that is {low} to {high} tpm, and yarn and log are {apart} tpm apart.",
            "Yarn and log are {apart} tpm apart; a bobbin or ball of {would_cm} cm would do that.",
            "Whether it adds or takes away depends on S or Z and on the end; drawn off the side it does neither.",
        ),
        "Draw samples off the side of the turning bobbin, or give --bobbin with its diameter.",
    ),
    "sample-contraction": FindingWords(
        "The log's length may be that of drafted yarn, before twisting shortened it.",
        (
            "That takes a contraction of {percent} %.",
            "Untwisting the samples showed {shown} %.",
            "A roller behind the orifice measures twisted yarn; a draft measured by hand does not.",
        ),
        "Measure how much a sample grows when it is untwisted and give --untwisted.",
    ),
    "sample-length": FindingWords(
        "The log's length may be wrong.",
        (
            "{logged} m are in the log; the yarn's twist asks for {would} m.",
            "One turn of the roller would have to take in {would_cm} cm, not {roller_cm} cm.",
            "A roller that the yarn slips on counts too little, and so too much twist.",
        ),
        "Wind a skein and give --total, or measure the roller's turn anew.",
    ),
    "sample-turns-lost": FindingWords(
        "Turns of the flyer may not have reached the yarn, or have run out of it again.",
        (
            "{percent} % of the log's turns are not in the samples.",
            "Twist that slips past the hand, extra flyer pulses, and twist lost in cutting and clamping look alike "
            "here.",
        ),
        "Clamp before cutting, and see what whorlpulse check says of the flyer.",
    ),
}
