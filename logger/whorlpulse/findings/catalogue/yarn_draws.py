"""What `twist` says of draws: how they were seen, their rhythm, and why there are none."""

from __future__ import annotations

from typing import Final

YARN_DRAWS: Final = {
    "draws-head": "Draws: {draws}, {seen}.",
    "draws-parked": "Draws: {draws}, {seen}; park and draft, the wheel stood during {stood} of them.",
    "draws-seen-roller": "parted by the roller's pauses",
    "draws-seen-bobbin": "parted by when the bobbin wound on",
    "draws-seen-marks": "one for each length line",
    "draws-length": "{length} m each (CV {cv} %)",
    "draws-lasted": "one in {seconds} s (CV {cv} %)",
    "draws-treadles": "{turns} wheel turns (CV {cv} %)",
    "draws-winding": "{seconds} s of it winding on",
    "draws-twist": "From draw to draw the twist varies by {cv} % (CV).",
    "draws-twist-known": (
        "From draw to draw the twist varies by {cv} % (CV); of one draw alone it is known to ± {each} %."
    ),
    "draws-waits": "When a draw begins to wind on, {percent} % of its turns wait in the drafted yarn.",
    "draws-more": "--draws lists them all.",
    "draws-list": "Draw by draw; waiting are the turns made before it began to wind on:",
    "draws-unknown": "?",
    # why there are none, or what is not known of them
    "draws-continuous": (
        "The roller pauses for hardly any of the flyer's turns, so the yarn went in while it was drafted: there are no "
        "draws to part, and twist is shown in windows."
    ),
    "draws-continuous-bobbin": (
        "The bobbin winds on nearly all the time, so the yarn went in while it was drafted: there are no draws to "
        "part, and twist is shown in windows."
    ),
    "draws-not-seen": (
        "Draws can't be parted: nothing in the log shows when yarn went in; a roller, a bobbin sensor or length lines "
        "would."
    ),
    "draws-coarse": (
        "Draws can't be parted: the roller's lines stand for several pulses each, so its pauses don't show."
    ),
    "draws-marks": (
        "Each length line is taken for one draw, over when it was entered; when a draw began to wind on is not known."
    ),
    "draws-lost": "Draws whose turns and length are not known, because lines were lost in them: {draws}.",
    "draws-rested": "Draws during which the wheel rested, left out of the rhythm: {draws}.",
}
