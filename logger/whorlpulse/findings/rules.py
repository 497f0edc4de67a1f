"""All findings of a log, the gravest first.

Order matters in one way only: where channels are exchanged, a number of targets is wrong or the clock is too coarse,
the repairs were made on a wrong footing, so nothing further is said of missed, extra or silent shafts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from whorlpulse.findings import shaft_rules
from whorlpulse.findings.catalogue.sensors import INFORMATION
from whorlpulse.findings.clock_rules import clock_too_coarse
from whorlpulse.findings.evidence import Facts
from whorlpulse.findings.line_rules import line_findings
from whorlpulse.findings.report import Finding, Note, note
from whorlpulse.findings.roller_rules import roller_misses

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure

#: What a person should look at first; what is not named comes after, in the order in which it was found.
_GRAVEST_FIRST: Final = (
    "no-flyer",
    "no-wheel",
    "channels-swapped",
    "clock-jumped-back",
    "clock-too-coarse",
    "wheel-targets",
    "flyer-targets",
    "ratio-unlikely",
    "clock-unbelievable",
    "header-value",
    "flyer-stood",
    "flyer-went-silent",
    "wheel-went-silent",
    "roller-silent",
    "too-short",
    "board-silent",
    "overruns",
    "lines-lost",
    "missed-pulses",
    "roller-missed-pulses",
    "extra-pulses",
    "lines-corrupt",
    "lines-malformed",
    "bounce",
    "torn-tail",
)
_SILENT: Final = ("flyer-stood", "flyer-went-silent", "wheel-went-silent", "no-flyer", "flyer-unseen", "no-wheel")


def all_findings(facts: Facts) -> tuple[tuple[Finding, ...], tuple[Note, ...]]:
    """Return the findings, faults before information and grave before slight, and notes on what was not judged."""
    found = [*line_findings(facts), *shaft_rules.missing_channels(facts)]
    coarse = clock_too_coarse(facts)
    arranged = list(shaft_rules.arrangement(facts)) if coarse is None else []
    notes: list[Note] = []
    if coarse is not None:
        found.append(coarse)
        notes.append(note("shafts-not-judged-clock"))
    elif arranged:
        found += arranged
        notes.append(note("shafts-not-judged"))
    else:
        for rule in (
            shaft_rules.silent_shafts,
            shaft_rules.pulse_faults,
            roller_misses,
            shaft_rules.uneven_targets,
            shaft_rules.enough,
            shaft_rules.hand_rolled,
        ):
            if rule is shaft_rules.hand_rolled and any(f.id in _SILENT for f in found):
                continue  # what turned while the other was silent belongs to no run either
            found += rule(facts)
    if all(f.id in INFORMATION for f in found):
        found.append(_healthy(facts))
    return tuple(sorted(found, key=_gravity)), tuple(notes)


def _healthy(facts: Facts) -> Finding:
    """Say that nothing was found; less surely so where the lines carry nothing that would show their loss."""
    unseen = any(facts.framing.lines and n == 0 for n in (facts.framing.numbered, facts.framing.checked))
    figures: dict[str, Figure] = {"pulses": facts.log.tally.pulses, "seconds": facts.conditioned.duration_s}
    return Finding("log-healthy", 0.8 if unseen else 0.95, figures)


def _gravity(finding: Finding) -> tuple[bool, int]:
    rank = _GRAVEST_FIRST.index(finding.id) if finding.id in _GRAVEST_FIRST else len(_GRAVEST_FIRST)
    return finding.id in INFORMATION and finding.id != "log-healthy", rank
