"""Rules about the sensors on the shafts: exchanged, wrongly numbered, missing, silent, missing or adding pulses.

Confidence: a count that could only come about one way is near 1; where slip or a hand could look the same, the share
decides. Conditioned clean logs (simulated, without slip) show no missed or extra pulse in hundreds; bursts of slip
show some, bunched in a few places, so places are counted, and a share of half a per cent is an even bet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from whorlpulse.estimators.ratio import FEWEST_TURNS, estimate_ratio
from whorlpulse.estimators.slip_reference import known_whorls
from whorlpulse.findings.catalogue.sensors import SHAFT_NAMES
from whorlpulse.findings.count_rules import counts_against_known
from whorlpulse.findings.evidence import Facts
from whorlpulse.findings.report import Finding
from whorlpulse.findings.silence import Silence, silences
from whorlpulse.pulses import BOBBIN, FLYER, ROLLER, WHEEL, Flag, FloatArray

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure

#: Drive ratios of wheels: common practice, no source.
LEAST_RATIO: Final = 3.0
MOST_RATIO: Final = 40.0
_RHYTHM: Final = 0.2  # share of the speed's variation at the treadle's rhythm that is taken for it
#: Later than this after its predecessor a pulse that comes too soon is no contact bounce: switches settle in less
#: (common practice, no source).
_LONGEST_BOUNCE_S = 0.008
_ONE_PLACE_S = 1.0  # faults closer together than this are one place
_FEWEST_PLACES = 3
_EVEN_BET = 0.005  # share of faults at which a sensor's fault and slip are equally likely
_LEAST_SHARE = 0.003
_OFF_EVEN_DEG = 2.0
_HAND_PULSES = 3
_GOOD_TURNS = 30
_LOOSE, _AIM = 0.005, 0.002  # relative half widths of the ratio


def arrangement(facts: Facts, known: Sequence[float] = ()) -> Iterator[Finding]:
    """Yield findings that make every other judgement of the shafts doubtful: exchanged channels, wrong numbers.

    known: ratios known of this wheel beside those of the rig's whorls.
    """
    ratio = facts.ratio
    if ratio is None:
        return
    found = [*_wheel_targets(facts), *_flyer_targets(facts)]
    exchanged = facts.exchanged_ratio
    if ratio < LEAST_RATIO and exchanged is not None and LEAST_RATIO <= exchanged <= MOST_RATIO:
        rhythm, targets = facts.exchanged_rhythm, facts.targets(WHEEL)
        share = rhythm.at(targets) if rhythm is not None else 0.0
        if share > _RHYTHM or (ratio < 1.0 and not found):
            flyer, wheel = (len(t) for t in facts.together)
            figures: dict[str, Figure] = {
                "ratio": ratio,
                "exchanged": exchanged,
                "w_pulses": wheel,
                "f_pulses": flyer,
                "least": LEAST_RATIO,
                "most": MOST_RATIO,
            }
            if share > _RHYTHM:
                figures["share_percent"] = 100.0 * share
            yield Finding("channels-swapped", 0.97 if share > _RHYTHM else 0.7, figures)
            return
    if not found:
        found = list(counts_against_known(facts, [*known, *(k.ratio.value for k in known_whorls(facts.rig))]))
    yield from found
    if not found and not LEAST_RATIO <= ratio <= MOST_RATIO:
        yield Finding(
            "ratio-unlikely",
            0.8 if ratio < 0.5 * LEAST_RATIO or ratio > 2.0 * MOST_RATIO else 0.6,
            {
                "ratio": ratio,
                "least": LEAST_RATIO,
                "most": MOST_RATIO,
                "wheel_targets": facts.targets(WHEEL),
                "flyer_targets": facts.targets(FLYER),
            },
        )


def _wheel_targets(facts: Facts) -> Iterator[Finding]:
    stated, gaps, rhythm = facts.targets(WHEEL), facts.wheel_gaps, facts.rhythm
    against_gaps = gaps is not None and stated % gaps != 0
    push = rhythm.pulses_a_push if rhythm is not None and not rhythm.fits(stated) else None
    if gaps is not None and stated > 1 and gaps >= 3 * stated and gaps % stated == 0 and push is None:
        against_gaps = False  # uneven targets under a band whose joint comes round in three turns repeat like that
    if not against_gaps and push is None:
        return
    found = gaps if gaps is not None and against_gaps else push
    if found is None or facts.ratio is None or _less_likely(facts.ratio, facts.ratio * found / stated):
        return
    figures: dict[str, Figure] = {"found": found, "stated": stated, "ratio_then": facts.ratio * found / stated}
    if against_gaps and gaps is not None:
        figures["gaps"] = gaps
    if push is not None and rhythm is not None:
        figures |= {"push": push, "push_twice": 2 * push, "share_percent": 100.0 * rhythm.at(push)}
    # Two witnesses that know nothing of each other; each alone has an innocent reading (see docs/findings.md).
    yield Finding(
        "wheel-targets", 0.97 if against_gaps and push is not None else 0.95 if against_gaps else 0.85, figures
    )


def _less_likely(now: float, then: float) -> bool:
    """Whether another count of targets would take the ratio further out of what wheels have."""
    out_now, out_then = (max(LEAST_RATIO / r, r / MOST_RATIO, 1.0) for r in (now, then))
    return out_then > out_now


def _flyer_targets(facts: Facts) -> Iterator[Finding]:
    stated, gaps = facts.targets(FLYER), facts.flyer_gaps
    if gaps is None or stated % gaps == 0 or facts.ratio is None:
        return
    then = facts.ratio * stated / gaps
    if _less_likely(facts.ratio, then):
        return
    yield Finding("flyer-targets", 0.95, {"found": gaps, "stated": stated, "gaps": gaps, "ratio_then": then})


def missing_channels(facts: Facts) -> Iterator[Finding]:
    """Yield channels that are not in the log at all; without flyer or wheel nothing else can be judged by two."""
    channel = facts.log.rows.channel
    flyer, wheel, roller, bobbin = (int(np.count_nonzero(channel == c)) for c in (FLYER, WHEEL, ROLLER, BOBBIN))
    if flyer == 0 and bobbin:
        yield Finding("flyer-unseen", 1.0, {"bobbin": bobbin})
    elif flyer == 0:
        yield Finding("no-flyer", 1.0, {"wheel": wheel})
    if wheel == 0:
        yield Finding("no-wheel", 1.0, {"flyer": flyer})
    if roller == 0 and flyer and _speaks_of_roller(facts):
        yield Finding("roller-silent", 0.9, {"flyer": flyer})


def _speaks_of_roller(facts: Facts) -> bool:
    header = facts.log.header
    return header.roller is not None or any(e.key == "targets" and "y=" in e.value for e in header.entries)


def silent_shafts(facts: Facts) -> Iterator[Finding]:
    """Yield a sensor that was silent, or a flyer that stood, while the other shaft turned on."""
    for letter, name in ((FLYER, "flyer-went-silent"), (WHEEL, "wheel-went-silent")):
        every = silences(facts, letter)
        stood = [s for s in every if s.stood] if letter == FLYER else []
        if stood:
            seconds = sum(s.end_s - s.start_s for s in stood)
            figures: dict[str, Figure] = {"seconds": seconds, "times": len(stood), "from_s": stood[0].start_s}
            yield Finding("flyer-stood", 0.95, figures)
        found = [s for s in every if s not in stood]
        if found:
            longest: Silence = max(found, key=lambda s: s.end_s - s.start_s)
            yield Finding(
                name,
                0.97,
                {
                    "seconds": sum(s.end_s - s.start_s for s in found),
                    "times": len(found),
                    "from_s": longest.start_s,
                    "to_s": longest.end_s,
                    "others": longest.others,
                },
            )


def pulse_faults(facts: Facts) -> Iterator[Finding]:
    """Yield missed, extra and bouncing pulses of each shaft."""
    for letter, train in facts.conditioned.trains.items():
        if letter in facts.conditioned.coarse or len(train) == 0:
            continue
        shaft, t_s = SHAFT_NAMES[chr(letter)], train.tick / facts.conditioned.tick_hz
        missed, extra, soon = (t_s[train.flag & f != 0] for f in (Flag.FILLED, Flag.EXTRA, Flag.BOUNCE))
        pulses = len(train) - len(missed)
        delay_s = _since_previous(t_s, soon)
        bounced = delay_s <= _LONGEST_BOUNCE_S
        extra = np.sort(np.concatenate((extra, soon[~bounced])))
        if letter != ROLLER:  # see `roller_rules`
            yield from _faulty("missed-pulses", missed, pulses + len(missed) - len(extra) - int(bounced.sum()), shaft)
        yield from _faulty("extra-pulses", extra, pulses, shaft)
        if bounced.sum() > 1:
            figures: dict[str, Figure] = {
                "shaft": shaft,
                "bounced": int(bounced.sum()),
                "pulses": pulses,
                "percent": 100.0 * float(bounced.sum()) / pulses,
                "delay_ms": 1e3 * float(np.median(delay_s[bounced])),
            }
            yield Finding("bounce", 0.95 if bounced.sum() >= _FEWEST_PLACES else 0.8, figures)


def _faulty(key: str, when_s: FloatArray, of: int, shaft: str) -> Iterator[Finding]:
    places = 1 + int(np.count_nonzero(np.diff(when_s) > _ONE_PLACE_S)) if len(when_s) else 0
    share = len(when_s) / max(of, 1)
    if places < _FEWEST_PLACES or share < _LEAST_SHARE:
        return
    figures: dict[str, Figure] = {
        "shaft": shaft,
        "percent": 100.0 * share,
        "places": places,
        "first_s": float(when_s[0]),
        "last_s": float(when_s[-1]),
    }
    figures |= {"missed": len(when_s), "due": of} if key == "missed-pulses" else {"extra": len(when_s), "pulses": of}
    yield Finding(key, share / (share + _EVEN_BET), figures)


def _since_previous(t_s: FloatArray, when_s: FloatArray) -> FloatArray:
    index = np.searchsorted(t_s, when_s)
    since: FloatArray = when_s - t_s[np.maximum(index - 1, 0)]
    return since


def uneven_targets(facts: Facts) -> Iterator[Finding]:
    """Yield shafts whose targets are off even spacing by more than two degrees, and surely so."""
    for letter, angles in facts.conditioned.angles.items():
        n = len(angles.angle)
        if n < 2 or not angles.measured:
            continue
        off = angles.angle - np.arange(n) / n
        off -= 0.5 * (off.max() + off.min())  # the even pattern that fits best
        worst = 360.0 * float(np.abs(off).max())
        u_deg = 360.0 * float(angles.u.max())
        if worst > max(_OFF_EVEN_DEG, 3.0 * u_deg):
            shown = ", ".join(f"{360.0 * a:.0f}°" for a in angles.angle)
            figures: dict[str, Figure] = {
                "shaft": SHAFT_NAMES[chr(letter)],
                "off_deg": worst,
                "angles": shown,
                "u_deg": u_deg,
            }
            yield Finding("uneven-targets", 0.95, figures)


def enough(facts: Facts) -> Iterator[Finding]:
    """Yield whether there is too little for a ratio, or for a good one, and how much would be enough."""
    if not all(len(facts.conditioned.trains[c]) for c in (FLYER, WHEEL)):
        return
    found = estimate_ratio(facts.conditioned, facts.rig.tick_hz)
    if found.ratio is None:
        figures: dict[str, Figure] = {"turns": int(found.wheel_turns), "needed": FEWEST_TURNS, "good": _GOOD_TURNS}
        turn_s = _turn_s(facts)
        if turn_s is not None:
            # two turns more than needed: the first and the last are not whole
            figures |= {"enough_s": round((FEWEST_TURNS + 2) * turn_s), "good_s": round((_GOOD_TURNS + 2) * turn_s)}
        yield Finding("too-short", 1.0, figures)
        return
    loose = found.ratio.half_width / found.ratio.value
    if loose > _LOOSE:
        # the interval shrinks at least with the root of the turns: this many are on the safe side
        turns = round(found.wheel_turns * (loose / _AIM) ** 2)
        yield Finding(
            "ratio-loose",
            0.9,
            {
                "percent": 100.0 * loose,
                "turns": int(found.wheel_turns),
                "enough": turns,
                "aim_percent": 100.0 * _AIM,
            },
        )


def _turn_s(facts: Facts) -> float | None:
    wait = np.diff(facts.reported_s(WHEEL))
    return float(np.median(wait)) * facts.targets(WHEEL) if len(wait) else None


def hand_rolled(facts: Facts) -> Iterator[Finding]:
    """Yield how many pulses belong to no run."""
    wheel, flyer = (int(np.count_nonzero(facts.conditioned.trains[c].flag & Flag.IDLE)) for c in (WHEEL, FLYER))
    if wheel + flyer >= _HAND_PULSES:
        yield Finding("hand-rolled", 0.9, {"idle": wheel + flyer, "wheel": wheel, "flyer": flyer})
