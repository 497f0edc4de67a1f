"""What `survey` says: the card's words, how to measure, and what was or was not written into the wheel file."""

from __future__ import annotations

from typing import Final

ANSWERS: Final = {
    "title": "Bench card",
    "title-named": "Bench card of {wheel}",
    "simulated": "Simulated: no wheel was there.",
    "doubtful": (
        "Do not use these ratios yet: what was seen in this log, below, says that the counts themselves are doubtful."
    ),
    "unit": "flyer turns per wheel turn",
    "one-ratio": "{ratio} : 1",
    "unnamed": "whorl {number}",
    "measured-on": "Measured {date}",
    "date": "Date",
    "repairer": "Measured by",
    "ratio": "ratio",
    "whorl": "whorl",
    "groove": "groove",
    "slip": "slip, %",
    "twist": "twist",
    "uses": "Which whorl for which twist",
    "best-for": "best for",
    "best-below": "below {to_tpi} tpi ({to_tpm} tpm)",
    "best-between": "{from_tpi} to {to_tpi} tpi ({from_tpm} to {to_tpm} tpm)",
    "best-above": "above {from_tpi} tpi ({from_tpm} tpm)",
    "best-alone": "the only whorl measured",
    "at-draft": "At a draft of {cm} cm ({inches} in) per treadle: ratio over draft.",
    "twist-at-draft": "{tpi} tpi ({tpm} tpm)",
    "drafts": "Draft per treadle, in cm, for a twist of",
    "drafts-twist": "{tpi} tpi ({tpm} tpm)",
    "no-slip": "without slip",
    "sources": "Without slip: {source}.",
    "sources-of": "Without slip, {whorls}: {source}.",
    "slip-unknown": "not known",
    "unknown": "–",
    "wheel": "The wheel",
    "wheel-diameter": "drive wheel",
    "band-thickness": "band, thick",
    "band-length": "band, long",
    "tension": "tension",
    "tension-scotch": "scotch (flyer-led)",
    "tension-irish": "irish (bobbin-led)",
    "tension-double-drive": "double drive",
    "findings": "Seen in this log",
    "findings-none": "Nothing of note.",
    "how": "How it was measured",
    "how-measured": (
        "{turns} wheel turns at {cadence} turns a minute, counted by a sensor on the drive wheel (targets to a turn: "
        "{wheel_targets}) and one on the flyer ({flyer_targets}); runs: {runs}."
    ),
    "how-ratio": (
        "A ratio is flyer turns over wheel turns at speed; bursts are left out. The ± hold the "
        "ratio of another such run 95 times of 100."
    ),
    "how-unseen": "The log's lines stand for several turns each, so bursts could not be left out.",
    "how-slip": (
        "Slip is what the band lost in this log, bursts and all, of the ratio without slip. It is slip at working load "
        "where this log was made at working load."
    ),
    "made-by": "Log {capture}; whorlpulse {version}.",
    "cautions": "Cautions",
    "caution-moving": (
        "Keep fingers, hair, sleeves and drive bands apart while the wheel turns; stop it before you move the band or "
        "fit a sensor."
    ),
    "caution-magnets": (
        "Magnets: tape or glue them and turn slowly at first, opposite pairs on a flyer so that it stays balanced. "
        "Keep them from children and animals, who are injured by swallowing them, and from pacemakers and other "
        "implants."
    ),
    "caution-power": (
        "Sensors run on USB power only. For a motor-driven wheel follow local electrical codes and ask a qualified "
        "person."
    ),
    "caution-hint": "What is said here is a hint for a person who knows the wheel, not a safety certificate.",
    "guide": "How to survey a wheel in one log",
    "written": "Written to {file}.",
    "saved": "Written into {file}:",
    "saved-new": "{name}: new, ratio {ratio}",
    "saved-changed": "{name}: ratio {old} → {ratio}",
    "saved-first": "{name}: had no ratio, now {ratio}",
    "saved-bursts": "{line}; bursts left out: {bursts}",
    "saved-reference": "{line}; from the reference log",
    "not-saved": "Not written:",
    "what-is-saved": (
        "A wheel file's ratio means without slip, so a log with the wheel turning freely is the right one for it: the "
        "steady creep of this log is in what was written."
    ),
}

#: The steps of the guide, in their order.
NOTES: Final = {
    "guide-fit": (
        "Fit one target on the drive wheel and one on the flyer, each with its sensor. Set the band as you spin with "
        "it, take the yarn off the flyer and let it run free."
    ),
    "guide-start": "Start the log with the wheel at rest: whorlpulse record survey.pulses --from PORT.",
    "guide-treadle": (
        "Treadle steadily on the first whorl for {seconds} s at {cadence} turns a minute: {turns} wheel turns, and a "
        "few to start and to stop. That is for ± {wanted} % at a ratio of {ratio} : 1, with a sensor that times to "
        "{ms} ms and a band whose loss varies by {slip} of a flyer turn from one wheel turn to the next; half the ± "
        "takes four times as long."
    ),
    "guide-move": (
        "Stop the wheel, wait until it stands, move the band to the next whorl, wait until all has stood for 5 s, and "
        "treadle again. Do not stop the log: the stops part it, and ratios more than 4 % apart are different whorls. "
        "Turning the wheel by hand in a stop does no harm."
    ),
    "guide-end": (
        "End the log after the last whorl, and let survey read it: whorlpulse survey survey.pulses -o card.html."
    ),
    "guide-load": (
        "For slip at working load record a second log while you spin, and hold it against the first: "
        "whorlpulse survey spinning.pulses --reference survey.pulses."
    ),
    "more-turns": (
        "The ± of whorl {whorl} is {percent} % of its ratio; for {wanted} % a run takes about {turns} wheel turns."
    ),
    "no-draft": "--draft LENGTH, your draft per treadle, would say which whorl is best for which twist.",
    "no-reference": (
        "Slip is not known: --reference LOG (slow, unloaded, the band freshly set) or a wheel file with diameters and "
        "band thickness would show it."
    ),
    "one-whorl": "Only one whorl was found; survey --how says how to measure them all in one log.",
    "whorl-rival": "The ratio {ratio} : 1 could be {names}, so it has no name here.",
    "save-rival": "{ratio} : 1 could be {names}: give the wheel file better diameters, or write the ratio in by hand",
    "save-shared": "{ratio} : 1: two measured ratios are near to {names}",
    "save-unplaced": (
        "{ratio} : 1 could be any of {names}, of which the wheel file gives neither ratio nor enough to reckon it"
    ),
    "save-unseen": "{ratio} : 1: the log's lines stand for several turns each, so bursts can't be left out",
    "save-doubtful": "{ratio} : 1: the counts are doubtful: see what whorlpulse check says of the log",
    "save-given": "{ratio} : 1: the ratio without slip was given with --reference, not measured",
    "save-slips": (
        "{name}: {ratio} : 1 is {percent} % below the {old} that the file has as measured without slip. That looks "
        "like slip; if the old one was wrong, remove it from the file first"
    ),
}

ERRORS: Final = {
    "no-log": "name a log to survey, or --how for how to record one",
    "share-option": '--within "{given}": write a percentage from 0.01 to 5, for example --within "0.1 %"',
    "nothing-saved": "{file} is left as it is: nothing could be written",
    "file-exists": "{file} exists already and is left as it is: name another file, or overwrite with --replace",
}
