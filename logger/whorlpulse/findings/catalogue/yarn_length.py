"""What `twist` says where two sources tell the length of the same yarn."""

from __future__ import annotations

from typing import Final

from whorlpulse.findings.catalogue.sensors import FindingWords

#: How a source is called within a sentence.
SOURCE_NAMES: Final = {
    "roller": "the roller",
    "marks": "the length lines",
    "total": "the given total",
    "bobbin": "the bobbin",
}

#: Why a source goes before the others.
USED_BECAUSE: Final = {
    "total": "it was measured on purpose, afterwards",
    "roller": "it measured all along, without a hand",
    "marks": "they were read off by hand, while the bobbin's figure hangs on two diameters",
}

FINDINGS: Final = {
    "roller-missed-pulses": FindingWords(
        "The roller's sensor misses pulses: about {percent} %.",
        (
            "{missed} were put in, where the roller's waits are twice or three times those around them.",
            "About {more} more at the ends of draws leave no trace; the length has them reckoned in, with their ±.",
            "A hand that falters makes long waits too, but of any length; here hardly any lie between.",
        ),
        "Bring the sensor closer to the roller's targets, and see that neither wobbles.",
    ),
    "lengths-disagree": FindingWords(
        "{Second} has {apart} % {more} yarn than {first}: {second_m} m against {first_m} m, for the same stretch.",
        (
            "By their ± that happens by chance less than three times in a thousand.",
            "{Alone} stands alone: the others agree.",
            "Twist was reckoned with {used}, because {because}; with {other} it would be {tpi} tpi ({tpm} tpm).",
        ),
        "Look for {causes}",
    ),
    "length-line-odd": FindingWords(
        "The length line at {at_s} s says {line_m} m, where the roller says {roller_m} m.",
        (
            "The other lines keep their proportion to the roller.",
            "The line was used as it stands.",
        ),
        "Look for a slip of the pen, or a line written before the yarn was in or only with the next draw, and correct "
        "it in the log.",
    ),
}

#: What could explain that the second has less or more than the first.
CAUSES: Final = {
    "roller-bobbin-more": (
        "yarn that slips on the roller, a roller that takes in more than stated (calibrate measures it), or a bobbin "
        "measured too thick, at the top of a hill say."
    ),
    "roller-bobbin-less": (
        "a roller that takes in less than stated (calibrate measures it) or runs on after the yarn, or a bobbin "
        "measured too thin."
    ),
    "roller-marks-more": (
        "yarn that slips on the roller, a roller that takes in more than stated (calibrate measures it), or draws "
        "noted too long."
    ),
    "roller-marks-less": (
        "a roller that takes in less than stated (calibrate measures it) or runs on after the yarn, draws noted too "
        "short, or a draw not noted."
    ),
    "roller-total-more": (
        "yarn that slips on the roller, a roller that takes in more than stated (calibrate measures it), a skein "
        "stretched while it was measured, or a reel whose round is shorter than stated."
    ),
    "roller-total-less": (
        "yarn that drew together once it was off the wheel or was measured slack, yarn that is missing in the total, "
        "a roller that takes in less than stated (calibrate measures it), or a reel whose round is longer than stated."
    ),
    "bobbin-marks-more": "a bobbin measured too thin, or draws noted too long.",
    "bobbin-marks-less": (
        "a bobbin measured too thick, at the top of a hill say, draws noted too short, or a draw not noted."
    ),
    "bobbin-total-more": (
        "a bobbin measured too thin, a skein stretched while it was measured, or a reel whose round is shorter than "
        "stated."
    ),
    "bobbin-total-less": (
        "a bobbin measured too thick, at the top of a hill say, yarn missing in the total, or yarn that drew together "
        "once it was off the wheel."
    ),
    "marks-total-more": (
        "draws noted too short or not at all, a skein stretched while it was measured, or a reel whose round is "
        "shorter than stated."
    ),
    "marks-total-less": (
        "draws noted too long, yarn missing in the total, or yarn that drew together once it was off the wheel."
    ),
}

YARN_LENGTH: Final = {
    "roller-mended": (
        "The roller's sensor missed pulses: {missed} were put in, and about {more} that leave no trace are reckoned "
        "into the length and its ±."
    ),
    "total-no-rounds": "0 rounds hold no yarn: write how many there are, for example '96 x 1.500 yd'",
    "lengths-more": "more",
    "lengths-less": "less",
    "lengths-agree": (
        "{first} and {second} agree: {first_m} m and {second_m} m of the same yarn. The twist goes by {used}."
    ),
    "lengths-not-compared": (
        "{first} and {second} were not compared: lines were lost, or yarn went in after the last length line."
    ),
}
