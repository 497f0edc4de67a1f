"""The words and figures of the bench card that its text, its page and its JSON share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from whorlpulse.estimators.measured import Measured
from whorlpulse.findings.catalogue import survey as catalogue
from whorlpulse.findings.catalogue.slip import SOURCES
from whorlpulse.units import INCH_M, tpi_from_tpm, tpm_from_tpi
from whorlpulse.views import finding_words, slip_words
from whorlpulse.views.figures import filled, given, measured, plain

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure, Note
    from whorlpulse.findings.survey_report import Saved, Saving, SurveyReport, WheelFacts, WhorlCard
    from whorlpulse.rig import Length

#: Twists for which the card says the draft, turns per inch: soft to hard (common practice, no source).
DRAFT_TWISTS_TPI: Final = (3.0, 5.0, 8.0, 12.0)
CAUTIONS: Final = ("caution-moving", "caution-magnets", "caution-power", "caution-hint")
_MM: Final = 1000.0
#: Figures of notes that are nobody's measurement: what is wanted, or reckoned with beforehand.
_ASKED: Final = frozenset({"wanted", "ms", "slip"})


@dataclass(frozen=True)
class Signed:
    """Who measured and when. date: as it is to be read, YYYY-MM-DD; repairer: None leaves a line to write on."""

    date: str
    repairer: str | None = None


def answer(key: str, /, **figures: Figure) -> str:
    """Return a sentence of the card with these figures in."""
    return filled(catalogue.ANSWERS[key], figures)


def note_words(note: Note) -> str:
    """Return a note's sentence, one of the survey's or any other; what was asked for is shown as it was asked for."""
    if note.key in catalogue.NOTES:
        asked = {key: given(f) for key, f in note.figures.items() if key in _ASKED and isinstance(f, float)}
        return filled(catalogue.NOTES[note.key], {**note.figures, **asked})
    return slip_words.note_words(note)


def title(report: SurveyReport) -> str:
    """Return the card's title, with the wheel's name where it has one."""
    name = report.wheel.name
    return answer("title") if name is None else answer("title-named", wheel=name)


def whorl_name(report: SurveyReport, whorl: WhorlCard) -> str:
    """Return a whorl's name, or its number from the lowest ratio up."""
    return whorl.name or answer("unnamed", number=report.whorls.index(whorl) + 1)


def slip(whorl: WhorlCard) -> str:
    """Return slip in per cent with its ±, without the sign."""
    return answer("slip-unknown") if whorl.slip is None else measured(whorl.slip, 100.0)


def no_slip(whorl: WhorlCard) -> str:
    """Return the ratio that a whorl's slip is reckoned from, a dash where it is not known."""
    return answer("unknown") if whorl.no_slip is None else measured(whorl.no_slip)


def sources(report: SurveyReport) -> list[str]:
    """Return where the ratios without slip come from, a sentence for each source."""
    by_source: dict[str, list[str]] = {}
    for whorl in report.whorls:
        if whorl.source is not None:
            source = SOURCES["wheel-file-diameters" if whorl.by_diameters else whorl.source]
            by_source.setdefault(source, []).append(whorl_name(report, whorl))
    if len(by_source) == 1 and all(w.source is not None for w in report.whorls):
        return [answer("sources", source=next(iter(by_source)))]
    return [answer("sources-of", source=source, whorls=", ".join(names)) for source, names in by_source.items()]


def seen(report: SurveyReport) -> list[tuple[bool, str]]:
    """Return what the log shows of band and sensors: whether it is a fault, and the sentence, with what to try."""
    found = [(finding_words.is_fault(f), *finding_words.said(f)) for f in report.findings if f.id != "slip-undecided"]
    return [(fault, f"{says} {do}" if fault else says) for fault, says, _, do in found]


def millimetres(length: Length | None) -> str:
    """Return a length in mm with its ±, a dash where it is not known."""
    return answer("unknown") if length is None else f"{measured(Measured(length.m, length.m_u), _MM)} mm"


def wheel_facts(wheel: WheelFacts) -> list[tuple[str, str]]:
    """Return what is known of the wheel itself, as (what, figure)."""
    lengths = {
        "wheel-diameter": wheel.wheel_diameter,
        "band-thickness": wheel.band_thickness,
        "band-length": wheel.band_length,
    }
    facts = [(answer(key), millimetres(length)) for key, length in lengths.items() if length is not None]
    return facts if wheel.tension is None else [*facts, (answer("tension"), answer(f"tension-{wheel.tension}"))]


def both_twists(twist_tpm: float) -> str:
    """Return a twist in turns per inch and per metre."""
    return answer("twist-at-draft", tpi=tpi_from_tpm(twist_tpm), tpm=twist_tpm)


def best_for(whorl: WhorlCard) -> str:
    """Return from which to which twist a whorl is the best at the draft."""
    assert whorl.use is not None
    low, high = whorl.use.from_tpm, whorl.use.to_tpm
    figures: dict[str, float] = {}
    if low is not None:
        figures |= {"from_tpi": tpi_from_tpm(low), "from_tpm": low}
    if high is not None:
        figures |= {"to_tpi": tpi_from_tpm(high), "to_tpm": high}
    if low is None and high is None:
        return answer("best-alone")
    return answer("best-between" if low and high else "best-below" if high else "best-above", **figures)


def at_draft(draft_m: float) -> str:
    """Return the sentence that names the draft."""
    return answer("at-draft", cm=100.0 * draft_m, inches=draft_m / INCH_M)


def draft_cm(whorl: WhorlCard, twist_tpi: float) -> str:
    """Return the yarn for one treadle stroke that gives this twist on this whorl: ratio over twist, in cm."""
    return plain(100.0 * whorl.ratio.value / tpm_from_tpi(twist_tpi))


def drafts_twist(twist_tpi: float) -> str:
    """Return a twist as the head of a column of drafts."""
    return answer("drafts-twist", tpi=given(twist_tpi), tpm=tpm_from_tpi(twist_tpi))


def how_measured(report: SurveyReport) -> list[str]:
    """Return how it was measured, a sentence each."""
    assert report.cadence_hz is not None
    wheel_targets, flyer_targets = report.targets
    said = [
        answer(
            "how-measured",
            turns=round(report.wheel_turns),
            runs=sum(len(w.runs) for w in report.whorls),
            cadence=60.0 * report.cadence_hz,
            wheel_targets=wheel_targets,
            flyer_targets=flyer_targets,
        ),
        answer("how-ratio"),
    ]
    if report.unseen:
        said.append(answer("how-unseen"))
    if any(w.slip is not None for w in report.whorls):
        said.append(answer("how-slip"))
    return said


def saved_lines(saving: Saving) -> list[str]:
    """Return a line for each ratio that went into the wheel file: what stood there and what stands there now."""
    return [_saved(one) for one in saving.saved]


def _saved(one: Saved) -> str:
    if one.index is None:
        line = answer("saved-new", name=one.name, ratio=one.ratio)
    elif one.old is None:
        line = answer("saved-first", name=one.name, ratio=one.ratio)
    else:
        line = answer("saved-changed", name=one.name, old=Measured(one.old, one.old_u or 0.0), ratio=one.ratio)
    if one.from_reference:
        return answer("saved-reference", line=line)
    return answer("saved-bursts", line=line, bursts=one.bursts) if one.bursts else line
