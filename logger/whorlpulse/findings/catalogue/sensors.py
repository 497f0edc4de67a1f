"""What `check` says of logs and sensors: for each finding its claim, its evidence and what to try.

A sentence of the evidence stands only where all the figures in its braces are known; the rest are left out.
`INFORMATION` are findings that are no fault. `{places:place}` is a number with its noun: 1 place, 15 places.
"""

from __future__ import annotations

from typing import Final, NamedTuple


class FindingWords(NamedTuple):
    """says: the claim in one sentence. evidence: sentences, each used where its figures are known. do: what to try."""

    says: str
    evidence: tuple[str, ...]
    do: str


_LINES: Final = "First lines: {lines}."

FINDINGS: Final = {
    # the shafts
    "channels-swapped": FindingWords(
        "Wheel and flyer seem to be exchanged: as plugged in, the ratio is {ratio} : 1; exchanged, {exchanged} : 1.",
        (
            "There are {w_pulses} pulses on w against {f_pulses} on f; wheels have between about {least} and "
            "{most} : 1 (common practice, no source).",
            "The speed of w rises and falls with the turns of f (this rhythm is {share_percent} % of its "
            "variation), as a flyer's does with the treadle.",
        ),
        "Exchange the two plugs, or the letters in the board's settings, and record again.",
    ),
    "ratio-unlikely": FindingWords(
        "A ratio of about {ratio} : 1 is unlikely for a wheel, so a count of targets is probably wrong.",
        (
            "Wheels have between about {least} and {most} : 1 (common practice, no source).",
            "Counted with w={wheel_targets} and f={flyer_targets} targets per turn.",
        ),
        "Count the targets on both shafts and write the numbers in the log's targets line or give --targets.",
    ),
    "wheel-targets": FindingWords(
        "The wheel seems to have {found:target} per turn, but {stated} is what the log or the wheel file says.",
        (
            "Measured in flyer turns, the gaps between wheel pulses repeat every {gaps} pulses.",
            "The treadle's rhythm in the flyer's speed comes once in {push} wheel pulses ({share_percent} % of its "
            "variation); feet push once or twice a turn, so {push} or {push_twice} targets would fit.",
            "As counted the ratio fits none that is known of this wheel; with {found} it fits {known} : 1.",
            "With {found} the ratio would be about {ratio_then} : 1.",
        ),
        "Count the targets on the wheel and write the number in the log's targets line or give --targets w={found}.",
    ),
    "flyer-targets": FindingWords(
        "The flyer seems to have {found:target} per turn, but {stated} is what the log or the wheel file says.",
        (
            "The gaps between flyer pulses repeat every {gaps} pulses, whatever the feet do.",
            "As counted the ratio fits none that is known of this wheel; with {found} it fits {known} : 1.",
            "With {found} the ratio would be about {ratio_then} : 1.",
        ),
        "Count the targets on the flyer and write the number in the log's targets line or give --targets f={found}.",
    ),
    "missed-pulses": FindingWords(
        "The {shaft} sensor misses pulses: {missed} of about {due} ({percent} %).",
        (
            "They are missing at {places:place}, from {first_s} s to {last_s} s; the other shaft turned on meanwhile.",
            "They were put in where the shafts say that a target passed, and count.",
            "A band that lets go for a moment can look the same when it loses a whole target.",
        ),
        "Bring the sensor closer to the target (2 to 3 mm for a magnet and a switch), and see that neither wobbles.",
    ),
    "extra-pulses": FindingWords(
        "The {shaft} sensor reports pulses where no target passes: {extra} of {pulses} ({percent} %).",
        (
            "They stand at {places:place}, from {first_s} s to {last_s} s, between passages that fit without them.",
            "They were left out of the count.",
        ),
        "Look for a second bright or magnetic thing on the shaft, turn the sensor's sensitivity down, and keep its "
        "wire away from motors.",
    ),
    "bounce": FindingWords(
        "The {shaft} sensor bounces: {bounced} of {pulses} pulses ({percent} %) come too soon after another.",
        (
            "Half of them come within {delay_ms} ms of it.",
            "They were left out of the count.",
        ),
        "Nothing needs to be done for the count. A Hall sensor instead of a reed switch, or a longer dead time in the "
        "board's settings, stops it.",
    ),
    "uneven-targets": FindingWords(
        "The {shaft} targets are unevenly spaced, up to {off_deg}° from even: no fault, it is allowed for.",
        ("They stand at {angles} (± {u_deg}°).",),
        "Nothing. Angles found in the log are used; leave the targets where they are.",
    ),
    "flyer-stood": FindingWords(
        "The flyer stood for {seconds} s while the wheel turned on.",
        (
            "It did so {times:time}, first at {from_s} s; it slowed down before or sped up after, which a silent "
            "sensor does not show.",
            "A band that slides or came off, and a flyer that is held or jammed, can't be told apart.",
        ),
        "Stop the wheel. See whether the band lies in its grooves and has tension, and whether the flyer turns freely.",
    ),
    "flyer-went-silent": FindingWords(
        "The flyer's sensor was silent while the wheel turned: {seconds} s in {times:piece}.",
        (
            "The longest silence is from {from_s} s to {to_s} s, with {others:wheel pulse} in it.",
            "The log does not tell a dead sensor or a lost target from a drive band that is off.",
        ),
        "See whether the flyer turned there. If it did, check the target, the gap to the sensor and its plug.",
    ),
    "wheel-went-silent": FindingWords(
        "The wheel's sensor was silent while the flyer turned: {seconds} s in {times:piece}.",
        ("The longest silence is from {from_s} s to {to_s} s, with {others:flyer pulse} in it.",),
        "Check the target on the wheel, the gap to the sensor and its plug.",
    ),
    "no-flyer": FindingWords(
        "No flyer pulse is in the log.",
        ("{wheel:wheel pulse} came in.",),
        "Check the flyer's sensor, its target and its plug; without it there is neither ratio nor twist.",
    ),
    "flyer-unseen": FindingWords(
        "The bobbin is sensed, the flyer is not: twist can be told where a length is known, the ratio can't.",
        ("{bobbin:bobbin pulse} came in.",),
        "For twist give --wheel with the tension and the bobbin's diameters. For ratio and slip, sense the flyer.",
    ),
    "no-wheel": FindingWords(
        "No wheel pulse is in the log.",
        ("{flyer:flyer pulse} came in.",),
        "Check the wheel's sensor, its target and its plug; without it there is no ratio (twist needs only the flyer).",
    ),
    "roller-silent": FindingWords(
        "The log speaks of a take-up roller, but no roller pulse is in it.",
        ("Its header gives a roller or targets y.", "{flyer:flyer pulse} came in."),
        "Lead the yarn over the roller and check its sensor; without it give --total, or write length lines.",
    ),
    # how much there is
    "too-short": FindingWords(
        "There is too little data for a ratio: {turns:whole wheel turn} counted together with the flyer.",
        (
            "{needed} are needed for a first figure; about {good} give a good one.",
            "At this pace that is {enough_s} s of treadling, better {good_s} s.",
        ),
        "Record again and treadle without a stop for longer.",
    ),
    "ratio-loose": FindingWords(
        "The log gives the ratio only to ± {percent} %.",
        (
            "{turns} wheel turns were counted.",
            "About {enough} turns like these would bring it to ± {aim_percent} % or better.",
        ),
        "Record longer runs; a steadier band or a finer clock helps as well.",
    ),
    "hand-rolled": FindingWords(
        "{idle:pulse} made while the wheel stood or was rolled by hand, which belong to no run.",
        ("{wheel} of them are the wheel's, {flyer} the flyer's.",),
        "Nothing, if somebody moved the wheel in the pauses.",
    ),
    # the board and its clock
    "overruns": FindingWords(
        "The board itself lost {pulses:pulse} ({times:time}), because it could not keep up.",
        (_LINES, "At {seconds} s.", "No turn count was carried across them."),
        "Use a faster serial speed or fewer targets; look for a switch that chatters.",
    ),
    "clock-jumped-back": FindingWords(
        "The board's clock jumps back ({times:time}): it restarted, or logs were pasted together.",
        (
            _LINES,
            "At {seconds} s.",
            "The sequence numbers began anew {numbers:time}.",
            "A second header stands at line {header_line}.",
        ),
        "Split the log there and look at each part by itself; if the board restarted, check its supply and plug.",
    ),
    "clock-unbelievable": FindingWords(
        "{rows:pulse line} with a time that can't be: left out of the count.",
        (_LINES, "{beyond} of them are beyond the clock's range of {bits} bits."),
        "If it is all of them, correct tick_bits in the log; if it is a few, switch the board's checksums on.",
    ),
    "clock-too-coarse": FindingWords(
        "The clock is too coarse for the {shaft}, or tick_hz is wrong: rounding alone would look like missed pulses.",
        (
            "Half of the {shaft}'s pulses come within {ticks} ticks of each other; it takes {needed}.",
            "The log's clock has {hertz} ticks a second; {enough} or more would do at this speed.",
        ),
        "Correct tick_hz in the log if it is wrong; else record with a finer clock, or slower.",
    ),
    "board-silent": FindingWords(
        "The board was not heard for {seconds} s in {times:piece}, though it sends a keep-alive every second.",
        ("The longest silence begins at {from_s} s.", _LINES),
        "Check the cable or the radio link, and whether the computer went to sleep.",
    ),
    "no-keep-alives": FindingWords(
        "The board sends no keep-alives (k lines): a wheel that stands and a pulled plug look alike.",
        (),
        "Nothing for this log. Firmware that sends one a second makes the next one surer.",
    ),
    # the lines
    "lines-lost": FindingWords(
        "{lost:line} never arrived, at {gaps:place}.",
        ("The line after each gap: {lines}.", "No turn count was carried across them."),
        "Check the cable or the radio link; lower the serial speed if it goes on.",
    ),
    "lines-corrupt": FindingWords(
        "{lines_n:line} arrived damaged: the checksum is wrong.",
        (_LINES, "They were left out."),
        "Check cable and plug, keep the wire away from motors, and see that both ends use the same speed.",
    ),
    "lines-malformed": FindingWords(
        "{lines_n:line} can't be read as a pulse or a note.",
        ("Causes: {causes}.", "They were left out."),
        "Look at the first of these lines: start-up noise does no harm; a different program's output does.",
    ),
    "torn-tail": FindingWords(
        "The last line is torn, as after a power cut or a pulled plug.",
        ("It is line {line}.", "The log is good up to it."),
        "Nothing. End recordings before you pull the plug, so that the last second is kept.",
    ),
    "header-value": FindingWords(
        "The log's {key} line can't be used.",
        ("Line {line} says {value}, which {why}.", "{instead} is used instead."),
        "Correct the line and run this again.",
    ),
    "no-checksums": FindingWords(
        "The lines carry no checksums, so a damaged digit can pass for another time.",
        (),
        "Nothing for this log. Switch the board's checksums on for the next.",
    ),
    "no-sequence": FindingWords(
        "The lines carry no sequence numbers, so lines that never arrived can't be seen.",
        (),
        "Nothing for this log. Switch the board's sequence numbers on for the next.",
    ),
    "log-healthy": FindingWords(
        "Nothing wrong with lines, clock and sensors.",
        ("{pulses} pulses in {seconds} s were examined.",),
        "Nothing.",
    ),
}

#: Findings that are no fault.
INFORMATION: Final = frozenset(
    {
        "uneven-targets",
        "hand-rolled",
        "flyer-unseen",
        "no-keep-alives",
        "no-checksums",
        "no-sequence",
        "ratio-loose",
        "log-healthy",
    }
)

#: Notes: why a figure is not known, and what was not looked at.
NOTES: Final = {
    "noise-few": (
        "{shaft}: timing noise is not known: it takes {needed} stretches of unbroken pulses, and there are {seen}."
    ),
    "noise-feet": (
        "{shaft}: timing noise is not known: the feet change the speed by more than it from pulse to pulse; it is at "
        "most {at_most_us} µs."
    ),
    "noise-wheel": (
        "Wheel: timing noise is not known: the feet change the wheel's speed between two passages of one target."
    ),
    "noise-idle": "{shaft}: timing noise is not known: this shaft turns in bursts.",
    "coarse-lines": (
        "{shaft}: its lines stand for several pulses each, so missed and extra pulses and timing noise are not known."
    ),
    "no-pulses": "{shaft}: no pulses, so nothing is known of its sensor.",
    "missed-not-judged": "{shaft}: missed pulses are not known, because no other shaft tells when one is due.",
    "angles-unknown": (
        "{shaft}: the angles of its {targets} targets can't be told from this log; even spacing is assumed."
    ),
    "shafts-not-judged": (
        "Missed and extra pulses, angles and timing noise are not known, because the shafts' arrangement is doubtful."
    ),
    "shafts-not-judged-clock": (
        "Missed and extra pulses, angles and timing noise are not known, because the clock is too coarse for them."
    ),
    "no-length": "No roller and no length lines: twist will need --total LENGTH.",
    "duration-unknown": "The duration is not known, because no line has a tick.",
}

#: Names of the shafts in sentences.
SHAFT_NAMES: Final = {"w": "wheel", "f": "flyer", "b": "bobbin", "y": "roller"}

#: The text answer's first line, when there is something to look at.
ONE_THING: Final = "One thing to look at: {worst}"
SEVERAL_THINGS: Final = "{count} things to look at; the worst: {worst}"
NOTHING_WRONG: Final = "Nothing wrong: {pulses} pulses in {seconds} s examined."
EVIDENCE: Final = "Why:"
TRY: Final = "Try:"
#: How sure a finding is, and where its section can be read.
SURE: Final = " ({percent} % sure)"
MORE: Final = "More: whorlpulse help {id}"
NOT_KNOWN: Final = "not known"
