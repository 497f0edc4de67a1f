"""What `calibrate` says: the roller's length per turn, what limits it, and what to write where."""

from __future__ import annotations

from typing import Final

YARN_CALIBRATE: Final = {
    "calibrate-unit": "of yarn for one turn of the roller, 95 % sure",
    "calibrate-rests-one": "From one pull of {metres} m; targets on the roller: {targets}.",
    "calibrate-rests": "From {pulls} pulls, {metres} m in all, parted by {parted}; targets on the roller: {targets}.",
    "calibrate-by-lines": "the log's mark and length lines",
    "calibrate-by-stops": "the stops between them",
    "calibrate-write": "Write it into the log, or give it as --roller; after +- stands the standard uncertainty:",
    # what limits it
    "calibrate-limit-length": (
        "Most of the ± ({percent} %) comes from the measured length, which repeats can't better: measure it more "
        "exactly, or write down that you know it better (10.000 m rather than 10.0 m)."
    ),
    "calibrate-limit-pulses": (
        "Most of the ± ({percent} %) comes from whole pulses: the roller stands anywhere between two targets at a "
        "pull's ends. Longer pulls, more of them, or more targets would help."
    ),
    "calibrate-limit-scatter": (
        "Most of the ± ({percent} %) comes from how the pulls differ, {scatter_cm} cm of yarn from one to another "
        "(standard deviation): pull with an even hand, and let the roller stand before and after."
    ),
    "calibrate-halve": "About {pulls} such pulls in all would halve the ±.",
    "calibrate-halve-never": "No number of pulls would halve the ±: the measured length's own uncertainty is in each.",
    # notes
    "calibrate-one-pull": (
        "One pull can't say how well it repeats, so the ± is of pulses and length alone. Pull three times or more."
    ),
    "calibrate-two-pulls": "Two pulls say little of how well they repeat: the ± may be too small. Pull once more.",
    "calibrate-lost": "Pulls left out, because lines were lost in them: {pulls}.",
    "calibrate-stray": "Pulses that belong to no pull, yarn put in place perhaps: {pulses}.",
    "calibrate-odd": (
        "Pull {pull} does not fit the others ({cm} cm a turn): did the yarn slip, or the roller run on? It was counted "
        "all the same; without it the figure would be another."
    ),
    "calibrate-given-over-log": "The lengths given were used, not the log's length lines.",
    "calibrate-agrees": "The log says {stated_cm} cm, which agrees.",
    "calibrate-differs": (
        "The log says {stated_cm} cm; that is {percent} % off, so lengths made with it are {wrong} by as much, and "
        "twists {twist}."
    ),
    "calibrate-too-long": "too long",
    "calibrate-too-short": "too short",
    "calibrate-too-low": "too low",
    "calibrate-too-high": "too high",
    "calibrate-as-spun": (
        "The figure holds for yarn that runs over the roller as this one did: thicker yarn rides higher, slack yarn "
        "slips."
    ),
    # no answer
    "calibrate-no-roller": (
        "no roller pulses (y) are in the log, only {others}: record while the measured length is pulled over the roller"
    ),
    "calibrate-coarse": (
        "the roller's lines stand for several pulses each, so a pull's pulses can't be counted: have the board report "
        "every pulse"
    ),
    "calibrate-too-few": "only {pulses} roller pulses are in the log: pull the measured length over the roller",
    "calibrate-how-many": (
        "{given} lengths were given, but {found} pulls are in the log, from {when} s: give one length for all, or one "
        "for each; --pulls says how many there are"
    ),
    "calibrate-no-length": (
        "no length line stands after the pull from {start} to {end} s: give --length, for example --length '10.00 m'"
    ),
    "calibrate-which-length": (
        "nothing says how long the pulls were: give --length with a unit, for example --length '10.00 m'"
    ),
    "calibrate-all-lost": "lines were lost in every pull, so none has a sure count: record again",
    "calibrate-pulls-differ": (
        "the pulls differ too much to be repeats of their lengths: {pulses} pulses, {cm} cm a turn; if they are parted "
        "wrongly, --pulls says how many there are, or write a mark line at each end"
    ),
    # the command line
    "pulls-option": "--pulls {given}: write how many pulls there are, 1 or more",
}
