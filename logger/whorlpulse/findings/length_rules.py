"""What follows from comparing the sources of length: findings where they disagree, notes where they agree."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from whorlpulse.findings.catalogue import sentence
from whorlpulse.findings.catalogue.yarn_length import CAUSES, SOURCE_NAMES, USED_BECAUSE
from whorlpulse.findings.report import Finding, Note, note

if TYPE_CHECKING:
    from whorlpulse.estimators.length_agreement import LengthAgreement, LengthPair
    from whorlpulse.estimators.measured import Measured
    from whorlpulse.findings.report import Figure
    from whorlpulse.length import LengthSource

_M_PER_INCH: Final = 0.0254
#: Of a difference beyond three standard uncertainties; a stretched skein is no fault, so it is not quite sure.
_CONFIDENCE: Final = 0.95
_ODD_CONFIDENCE: Final = 0.8


def length_findings(agreement: LengthAgreement, used: LengthSource, twist: Measured) -> tuple[Finding, ...]:
    """Return one finding for each pair that disagrees and each line that stands out.

    used: the source of the twist's length; twist: turns per metre with it. Where one source stands alone against others
    that agree, it is told once, against the one that was used or else the first.
    """
    alone = stands_alone(agreement)
    apart = [p for p in agreement.pairs if not p.agree]
    if alone is not None:
        apart = sorted(apart, key=lambda p: used not in (p.first, p.second))[:1]
    found = [_disagree(p, used, twist, alone) for p in apart]
    for line in agreement.odd_lines:
        figures: dict[str, Figure] = {"at_s": line.at_s, "line_m": line.line_m, "roller_m": line.roller_m}
        found.append(Finding("length-line-odd", _ODD_CONFIDENCE, figures))
    return tuple(found)


def stands_alone(agreement: LengthAgreement) -> LengthSource | None:
    """Return the source that disagrees with all others while these agree with each other; None if there is none."""
    sources = {s for p in agreement.pairs for s in (p.first, p.second)}
    if len(sources) < 3:
        return None
    for source in sorted(sources):
        its = [p.agree for p in agreement.pairs if source in (p.first, p.second)]
        others = [p.agree for p in agreement.pairs if source not in (p.first, p.second)]
        if its and others and not any(its) and all(others):
            return source
    return None


def length_notes(agreement: LengthAgreement, used: LengthSource) -> list[Note]:
    """Return notes on pairs that agree and on those that could not be compared."""
    notes = [
        note(
            "lengths-agree",
            first=_capital(p.first),
            second=SOURCE_NAMES[p.second],
            first_m=p.first_m,
            second_m=p.second_m,
            used=SOURCE_NAMES[used],
        )
        for p in agreement.pairs
        if p.agree
    ]
    notes += [
        note("lengths-not-compared", first=_capital(first), second=SOURCE_NAMES[second])
        for first, second in agreement.not_compared
    ]
    return notes


def _disagree(pair: LengthPair, used: LengthSource, twist: Measured, alone: LengthSource | None) -> Finding:
    more = "more" if pair.apart.value > 0 else "less"
    figures: dict[str, Figure] = {
        "first": SOURCE_NAMES[pair.first],
        "Second": _capital(pair.second),
        "first_m": pair.first_m,
        "second_m": pair.second_m,
        "apart": pair.apart.times(100.0 if pair.apart.value > 0 else -100.0),
        "more": sentence(f"lengths-{more}"),
        "causes": CAUSES[f"{pair.first}-{pair.second}-{more}"],
    }
    if alone is not None:
        figures["Alone"] = _capital(alone)
    if used in (pair.first, pair.second) and used in USED_BECAUSE:
        other = pair.second if used == pair.first else pair.first
        ratio = 1.0 + pair.apart.value
        tpm = twist.value / ratio if used == pair.first else twist.value * ratio
        figures |= {
            "used": SOURCE_NAMES[used],
            "because": USED_BECAUSE[used],
            "other": SOURCE_NAMES[other],
            "tpi": tpm * _M_PER_INCH,
            "tpm": tpm,
        }
    return Finding("lengths-disagree", _CONFIDENCE, figures)


def _capital(source: LengthSource) -> str:
    name = SOURCE_NAMES[source]
    return f"{name[:1].upper()}{name[1:]}"
