"""What `slip` says: the answer's words, notes, and for each finding its claim, evidence, limits and what to try.

As in `sensors`, a sentence of the evidence stands only where all the figures in its braces are known. The last
sentence of each finding's evidence says what it can't tell apart.
"""

from __future__ import annotations

from typing import Final

from whorlpulse.findings.catalogue.sensors import FindingWords
from whorlpulse.findings.catalogue.slip_slides import SLIDES

FINDINGS: Final = {
    **SLIDES,
    "slip-bursts": FindingWords(
        "The band slips in bursts: {lost} flyer turns lost at once or in a moment, {times} times.",
        (
            "The largest lost {largest} flyer turns at {largest_s} s.",
            "That is {percent} % of what the flyer should have made.",
            "{winding} of them came while yarn was wound on.",
            "{hard} of them came when the wheel was pushed harder than nine tenths of the time.",
            "{started} of them came while the wheel started up or ran down.",
            "{whole} of them lost just a whole target's worth in a log whose sensors miss pulses; those may be the "
            "sensor's.",
            "The shafts can't tell a slack band from a smooth or greasy groove, a worn band, or a brake that bites.",
        ),
        "Stop the wheel. Tension the band a little, clean band and grooves, and see whether the brake grabs; then "
        "record again and compare.",
    ),
    "band-creeps": FindingWords(
        "The band creeps: it loses {creep} % all the time, more when it has to pull.",
        (
            "The loss goes with {loads}.",
            "Between light and heavy pulling it changes by {change_points} points.",
            "Only changes are known, because the reference is {own}: the steady part comes on top.",
            "A stretchy band, one with too little tension, and a heavily braked flyer look the same.",
        ),
        "Stop the wheel. Try a stiffer band or a little more tension, and less brake; creep of some tenths of a per "
        "cent is in every band.",
    ),
    "drag": FindingWords(
        "Something brakes the flyer: the band's loss goes with {loads}.",
        (
            "While yarn is wound on, {winding_points} points more are lost.",
            "From slow to fast treadling, {speed_points} points more are lost.",
            "A band that is too stretchy for an ordinary brake shows the same.",
        ),
        "Stop the wheel. Ease the brake if it is winding on; oil the flyer's bearings and look for rubbing if it is "
        "speed.",
    ),
    "band-joint": FindingWords(
        "The band has a place that slips or lifts each time it comes round: its joint, most likely.",
        (
            "The loss rises and falls by {size} % of the ratio, {order} times a wheel turn, once in {period_s} s.",
            "The band goes round {expected} times a wheel turn, by its length in the wheel file.",
            "It comes {multiple} times in one round of the band.",
            "With {targets} wheel targets a turn, {alias} times a wheel turn would look the same.",
            "A knot, a thick splice, a frayed or a hardened place can't be told apart.",
        ),
        "Stop the wheel, then turn it slowly by hand and feel and look for the place; even out or remake the joint.",
    ),
    "periodic-loss": FindingWords(
        "Something loses turns with a rhythm: {order} times a wheel turn, or an alias of it.",
        (
            "The loss rises and falls by {size} % of the ratio, once in {period_s} s.",
            "With {targets} wheel targets a turn, {alias} times a wheel turn would look the same.",
            "Without {lacking} it is not known whether this is the band's own round.",
            "A band's joint, a whorl out of round and a rhythm of the hands can't be told apart by this alone.",
        ),
        "Write band_length and wheel_diameter in the wheel file and run this again.",
    ),
    "wheel-untrue": FindingWords(
        "The ratio changes once a wheel turn, as with a wheel out of true.",
        (
            "It rises and falls by {size} % of the ratio; targets that stand up to {off_deg}° off would look the same.",
            "The push of the foot, which comes once a turn as well, should make about {pushed} % of it.",
            "The wheel, misplaced targets, and a foot that pushes a stretchy band once a turn can't be told apart by "
            "one log.",
        ),
        "Move the wheel's sensor a quarter round the wheel and record again: if the pattern moves with it, it is the "
        "wheel; if it stays with the targets, it is them.",
    ),
    "reference-off": FindingWords(
        "The reference of {reference} : 1 is probably off: the ratio is {creep} % away from it whatever the band does.",
        (
            "The ratio is {above} % above the reference, which no slip can do.",
            "The shortfall does not go with acceleration, speed or winding on: they change it by "
            "{change_points} points only.",
            "A constant brake on the flyer that grips nothing else, on a band that hardly stretches, would look the "
            "same.",
        ),
        "Record a slow, unloaded run and give it with --reference, or measure the diameters and the band again.",
    ),
    "double-drive": FindingWords(
        "In double drive the band slips on one of its two whorls by design whenever nothing is wound on: no fault.",
        (
            "The bobbin made {bobbin} turns for each of the flyer's.",
            "The flyer is carried along by {share} % of what the bobbin's whorl would gain; that is taken out, and "
            "what is said of slip is meant of the rest.",
            "A loss that grows just as winding on does would be taken for design too.",
        ),
        "Nothing.",
    ),
    "double-drive-unseen": FindingWords(
        "In double drive the band slips on one of its two whorls by design whenever nothing is wound on: no fault.",
        (
            "The bobbin made {bobbin} turns for each of the flyer's.",
            "Which of the flyer's losses are meant can't be told without the bobbin's turns; creep, drag and the "
            "reference are not judged, and bursts only where the roller says that nothing was wound on.",
        ),
        "Put a sensor on the bobbin too and record again.",
    ),
    "bobbin-driven": FindingWords(
        "The band drives the bobbin here, so its slip was sought in the bobbin's turns, not in the flyer's.",
        (
            "The bobbin made {bobbin} turns for each of the flyer's, which falls behind while yarn winds on: no fault.",
            "What is said of ratio, reference and lost turns is meant of the bobbin.",
        ),
        "Nothing.",
    ),
    "bobbin-led-unseen": FindingWords(
        "In a bobbin-led wheel the flyer falls behind while yarn winds on: no fault, and no slip of the band.",
        (
            "Which of the flyer's losses are meant can't be told without the bobbin's turns; creep, drag and the "
            "reference are not judged, and bursts only where the roller says that nothing was wound on.",
        ),
        "Put the sensor, or a second one, on the bobbin and record again.",
    ),
    "slip-undecided": FindingWords(
        "Whether the band slips at all is undecided: {slip} % can't be told from none.",
        (
            "{reference_percent} % of the ± comes from the reference, {reference} : 1.",
            "{log_percent} % of the ± comes from this log itself.",
            "The {bursts} bursts are sure all the same; the total is not.",
        ),
        "A slow, unloaded log with the band freshly set, given with --reference, would decide it; if the ± is this "
        "log's own, a longer one.",
    ),
    "band-healthy": FindingWords(
        "The band is in order: no bursts, no rhythm, and little creep.",
        (
            "It loses {creep} % in all.",
            "Its loss changes by no more than {change_points} points between light and heavy pulling.",
            "The reference is {own}: a steady creep would not show.",
            "It says nothing about more load than there was in this log.",
        ),
        "Nothing.",
    ),
}

#: Findings that are no fault.
INFORMATION: Final = frozenset(
    {"band-healthy", "double-drive", "double-drive-unseen", "bobbin-driven", "bobbin-led-unseen", "slip-undecided"}
)

#: Findings after which somebody will touch the band.
TOUCHES_BAND: Final = frozenset({"band-slides", "slip-bursts", "band-creeps", "drag", "band-joint", "wheel-untrue"})

LOADS: Final = {
    "acceleration": "how hard the flyer is sped up",
    "speed": "how fast it turns",
    "winding": "winding on",
}

OWN: Final = "this log's own"
LACKING: Final = "the band's length and the wheel's diameter"

SOURCES: Final = {
    "given": "as given",
    "other-capture": "from the reference log",
    "wheel-file": "measured earlier, from the wheel file",
    "wheel-file-diameters": "from the wheel file's diameters and band thickness",
    "this-capture": "from this log's own least-slipping stretches",
}

ANSWERS: Final = {
    "slipping": "{percent} % of the flyer's turns are lost to slip",
    "slip-none": "no slip that this log could show",
    "slip-undecided": "undecided: it can't be told from none",
    "slip-above": "the ratio is above the reference, which no slip can do",
    "slip-own": "at least, against this log's own best stretches",
    "slip-sure": "of the flyer's turns lost; the ± are 95 % sure",
    "slip-reference": "Ratio {ratio} : 1, against {reference} : 1 without slip, {source}.",
    "slip-parts": "Parts:",
    "slip-events": "Bursts:",
    "slip-more": "and {more} more; --json has them all.",
    "slip-loads": "The steady loss goes with {loads}, in points of the ratio from light to heavy.",
    "creep-unknown": "not known",
}

NOTES: Final = {
    "slip-by-design-inside": (
        "The slip and the bursts above hold those that this tension is meant to make while yarn winds on, or while it "
        "is held; the bobbin's pulses would tell them apart."
    ),
    "own-reference": (
        "No reference was given, so the ratio of this log's own least-slipping stretches stands for it: a steady "
        "creep is in that too and can't be seen, and creep is not known. --reference or --wheel would show it."
    ),
    "reference-unfit": "The reference {ratio} : 1 fits none of the ratios measured here and was left aside.",
    "reference-rival": (
        "Whorl {name} was taken for this ratio, but whorl {rival} could be it too: then the slip would be another."
    ),
    "reference-creeps": (
        "What the band crept in the reference log is in the reference too: some tenths of a per cent with an ordinary "
        "band, a per cent and more with a stretchy one (simulated). Diameters would show it."
    ),
    "one-target": (
        "With one wheel target a turn, a loss that repeats once a wheel turn can't be seen at all, and every rhythm "
        "shows folded to at most once in two turns."
    ),
    "wheel-order": (
        "A loss that repeats just once a wheel turn looks like targets out of place; it is said only where four or "
        "more targets shift like a sine."
    ),
    "not-believed": (
        "Sudden losses and gains that were not believed: {doubtful}. Slip never gains, so as many losses are the "
        "sensors'."
    ),
    "beside-silence": (
        "Sudden losses beside a sensor's silence were left out: {left_out}. There the count is a guess."
    ),
    "ramps-unseen": (
        "Where the wheel starts up or runs down, bursts were not looked for, because pulses were missed or extra."
    ),
    "outside-counted": "Bursts while the wheel started or ran down are listed, but are not in the per cents: {bursts}.",
    "no-winding": "Without roller pulses it is not known whether yarn was wound on.",
    "no-band-order": (
        "The band's rhythm can't be named without band_length and wheel_diameter in the wheel file (--wheel)."
    ),
    "counts-only": (
        "The lines stand for several turns each, so bursts and rhythms can't be seen; slip is of the whole only."
    ),
    "caution": (
        "Stop the wheel before you touch band, brake or bearings, and keep fingers, hair and sleeves away while it "
        "turns. A finding is a hint for a person who knows the wheel, not a safety certificate."
    ),
}

ERRORS: Final = {
    "reference-option": (
        '--reference "{given}": give flyer turns per wheel turn from 0.01 to 1000, for example 6.21 or 6.21+-0.01, or '
        "the path of another log"
    ),
    "reference-log": "{file}: as a reference: {why}",
}
