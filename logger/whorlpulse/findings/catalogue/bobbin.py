"""What `twist` says of bobbins: how long what was wound on is, whose turns are the flyer's, and what the file lacks."""

from __future__ import annotations

from typing import Final

BOBBIN: Final = {
    "wound-on": "Wound on: {turns} turns; the bobbin grew from {core} to {full} mm.",
    "flyer-unseen": (
        "The flyer was not sensed: its turns are the bobbin's {sign} the {wound} in which the yarn was wound on, as in "
        "a {led} wheel."
    ),
    "flyer-unjudged": (
        "Flyer pulses were counted as they came: in a bobbin-led wheel the flyer falls behind while yarn winds on, so "
        "the wheel can't tell missed ones. A sensor on the bobbin too would."
    ),
    "bobbin-thickness-guessed": (
        "How thick the bobbin got is not known: it is taken to lie anywhere between its core and twice that, which is "
        "in the ±. full_diameter in the wheel file would narrow it."
    ),
    "lead-of-log": (
        "The bobbin turned {faster} than the flyer, so the wheel is {led} here: the log is believed, not the tension "
        "{tension} (which is taken where no wheel file says otherwise)."
    ),
    "over-end": (
        "Drawn off over the bobbin's end this yarn gains or loses one turn a wrap, {least} to {most} turns per metre; "
        "drawn off its side, none."
    ),
    "greatest-draw-in": (
        "Double drive: in one wheel turn at most {bare} m go in on the bare bobbin and {full} m on one of {mm} mm, "
        "because its whorl makes {excess} turns more than the flyer's."
    ),
    "ratio-of-bobbin": (
        "The band drives the bobbin, at {ratio} : 1; the flyer falls behind it while yarn winds on, so its own ratio "
        "is that of this log only."
    ),
    "ratio-of-both": (
        "Double drive: the band makes {ratio} : 1 of the flyer and {share} % of what the bobbin gains on it; the "
        "flyer's own ratio is that of this log only."
    ),
    "ratio-lags-unseen": (
        "In this tension the flyer falls behind the band while yarn winds on, so its ratio is that of this log only; "
        "with a sensor on the bobbin too, the band's own would be known."
    ),
    "led-flyer": "flyer-led",
    "led-bobbin": "bobbin-led",
    "faster": "faster",
    "slower": "slower",
    "plus": "plus",
    "minus": "less",
    # instead of an answer
    "no-bobbin-core": (
        "the bobbin is sensed, but how thick it is, is not known: write core_diameter and full_diameter under [bobbin] "
        "in the wheel file and give --wheel (or, with flyer pulses, the yarn's length with --total)"
    ),
    "no-bobbin-growth": (
        "how thick the bobbin got is not known: write its full_diameter, measured over the yarn, under [bobbin] in the "
        "wheel file; or its width there and the yarn's count in --plan; or give --total"
    ),
}
