"""Which measured ratios may go into a wheel file, and why the others may not.

A wheel file's `ratio` means without slip. So what goes in is the ratio without bursts of a log that saw them, or that
of the slow log which was given as a reference; never one that looks like slip beside an earlier measured one, nor one
whose whorl is not surely known.
"""

from __future__ import annotations

from collections.abc import Sequence

from whorlpulse.estimators.band_ratio import no_slip_ratio
from whorlpulse.estimators.measured import Measured, quotient
from whorlpulse.estimators.whorl_match import Match, match_whorls
from whorlpulse.findings.report import Note, note
from whorlpulse.findings.survey_report import Saved, Saving, SurveyReport, WhorlCard
from whorlpulse.rig import Rig

#: An ordinary band creeps by some tenths of a per cent; a ratio that is surely this much below an earlier one slips.
_SLIPS = 0.01


def what_to_save(report: SurveyReport, file: Rig) -> Saving:
    """Return the new ratios for a wheel file, `file` being the rig that it describes (no whorls: a new file)."""
    found = [_to_keep(w) for w in report.whorls]
    matches = _matches([m.value for m in found], file)
    taken = {(w.name or "").casefold() for w in file.whorls}
    saved, refused = [], []
    for whorl, ratio, match in zip(report.whorls, found, matches, strict=True):
        why_not = _why_not(report, whorl, ratio, match, file)
        if why_not is not None:
            refused.append(why_not)
            continue
        one = _saved(whorl, ratio, match, file, taken)
        taken.add(one.name.casefold())
        saved.append(one)
    return Saving(tuple(saved), tuple(refused))


def _to_keep(whorl: WhorlCard) -> Measured:
    """The best that is known of the ratio without slip: the slow log's, where there is one."""
    by_log = whorl.source == "other-capture" and whorl.no_slip is not None
    return whorl.no_slip if by_log and whorl.no_slip is not None else whorl.ratio


def _matches(ratios: Sequence[float], file: Rig) -> list[Match]:
    """By ratio; or, where the file knows no ratio but as many grooves, by order: larger groove, lower ratio."""
    known = [no_slip_ratio(file, w) for w in file.whorls]
    across = [w.diameter.m for w in file.whorls if w.diameter is not None]
    in_order = len(set(across)) == len(file.whorls) == len(ratios)
    if not in_order or any(r is not None for r in known):
        return match_whorls(ratios, [None if r is None else r.value for r in known])
    by_groove = sorted(range(len(across)), key=lambda i: -across[i])
    by_ratio = sorted(range(len(ratios)), key=lambda g: ratios[g])
    place = dict(zip(by_ratio, by_groove, strict=True))
    return [Match(place[g]) for g in range(len(ratios))]


def _why_not(report: SurveyReport, whorl: WhorlCard, ratio: Measured, match: Match, file: Rig) -> Note | None:
    if report.doubtful:
        return note("save-doubtful", ratio=ratio)
    if report.unseen:
        return note("save-unseen", ratio=ratio)
    if whorl.source == "given":
        return note("save-given", ratio=ratio)
    if match.rivals or match.shared:
        possible = [*match.rivals, *([] if match.index is None else [match.index])]
        return note("save-rival" if match.rivals else "save-shared", ratio=ratio, names=_names(file, possible))
    if match.index is None:
        unknown = [i for i, w in enumerate(file.whorls) if no_slip_ratio(file, w) is None]
        return note("save-unplaced", ratio=ratio, names=_names(file, unknown)) if unknown else None
    return _slips(ratio, match.index, file)


def _slips(ratio: Measured, index: int, file: Rig) -> Note | None:
    """Refuse to write a ratio that is surely and plainly below the one measured earlier."""
    earlier = file.whorls[index]
    if earlier.ratio is None:
        return None
    old = Measured(earlier.ratio, earlier.ratio_u or 0.0)
    part = quotient(ratio, old)
    if part.value + part.half_width > 1.0 - _SLIPS:
        return None
    lost = Measured(100.0 * (1.0 - part.value), 100.0 * part.u, part.dof)
    return note("save-slips", name=_names(file, [index]), ratio=ratio, percent=lost, old=old)


def _saved(whorl: WhorlCard, ratio: Measured, match: Match, file: Rig, taken: set[str]) -> Saved:
    by_log = whorl.source == "other-capture"
    bursts = 0 if by_log else whorl.bursts
    if match.index is None:
        return Saved(_free_name(taken), ratio, bursts=bursts, from_reference=by_log)
    old = file.whorls[match.index]
    return Saved(_names(file, [match.index]), ratio, match.index, old.ratio, old.ratio_u, bursts, by_log)


def _free_name(taken: set[str]) -> str:
    return next(name for n in range(1, len(taken) + 2) if (name := f"whorl {n}") not in taken)


def _names(file: Rig, indices: Sequence[int]) -> str:
    return " or ".join(file.whorls[i].name or f"number {i + 1}" for i in sorted(set(indices)))
