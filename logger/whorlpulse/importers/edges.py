"""When a sampled signal says that a target has come: levels, hysteresis, and the crossing between samples.

The words are those of IEEE Std 181 (transitions, pulses and related waveforms; from memory): a state level for
rest and one for the target's presence, a transition between them, and its instant where it crosses the 50 %
reference level. A sound card lets nothing slow through, so the presence may sag and swing over behind: levels
are taken from the peaks, not from where the signal dwells.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final, Protocol

import numpy as np

from whorlpulse.pulses import FloatArray

#: Samples that are looked at together when peaks are collected, and when crossings are searched.
_PEAK_BLOCK: Final = 4096
_BLOCK: Final = 1 << 20
#: For medians about so many samples do.
_SAMPLED: Final = 1 << 20
#: The highest peaks that may be clicks: the fourth one sets what counts as a pulse of full height.
_CLICKS: Final = 3
#: A signal whose pulses stand out less than this many noise deviations says nothing.
_LEAST_HEIGHT_SIGMA: Final = 10.0
#: The hysteresis reaches from 40 % to 60 %, wider in noise: so many deviations, up to 25 % to 75 %.
_HALF_BAND: Final = 0.10
_BAND_SIGMA: Final = 4.0
_WIDEST_HALF_BAND: Final = 0.25
#: The part of the transition that a line is fitted to: the middle half, where ramps and magnets alike are straight.
_FIT_FROM, _FIT_TO = 0.25, 0.75
#: One polarity is plain when its peaks are so many times those of the other.
_PLAIN: Final = 1.7


class Signal(Protocol):
    """A channel of samples, read piece by piece so that a long recording need not be held as numbers at once."""

    def __len__(self) -> int:
        """Return the number of samples."""
        ...

    def part(self, start: int, stop: int) -> FloatArray:
        """Return samples start..stop-1 (within bounds), any unit."""
        ...


@dataclass(frozen=True)
class Held:
    """A signal that is an array, values (n,)."""

    values: FloatArray

    def __len__(self) -> int:
        return len(self.values)

    def part(self, start: int, stop: int) -> FloatArray:
        """Return samples start..stop-1."""
        return self.values[start:stop]


@dataclass(frozen=True)
class Levels:
    """rest: the level without a target; up, down: how far targets take it up and down; noise: standard deviation."""

    rest: float
    up: float
    down: float
    noise: float


@dataclass(frozen=True)
class Edges:
    """Instants at which a target comes, in samples from the first, (n,) float64, rising.

    falling: the target pulls the signal down. plain: the polarity is sure from the levels alone. levels as found.
    """

    at: FloatArray
    falling: bool
    plain: bool
    levels: Levels


def find_edges(signal: Signal, *, falling: bool | None = None, grain: float = 0.0) -> Edges | None:
    """Return when targets come in a signal, None where nothing stands out of the noise.

    grain: the signal's smallest step; noise is not taken for less than one of it.
    falling: None to find it out. Where peaks go both ways (a coil, or a sound card that passes only changes), the
    target begins with the one that is followed sooner by the other.
    """
    levels = state_levels(signal)
    levels = replace(levels, noise=max(levels.noise, grain))
    least = _LEAST_HEIGHT_SIGMA * levels.noise
    if not max(levels.up, levels.down) > least:
        return None
    plain = max(levels.up, levels.down) > _PLAIN * min(levels.up, levels.down)
    if falling is None:
        falling = levels.down > levels.up if plain else _begins_down(signal, levels)
    height = -levels.down if falling else levels.up
    if not abs(height) > least:
        # the side asked for shows nothing: the target is there when the other side's pulse ends
        height = levels.up if falling else -levels.down
        return Edges(crossings(signal, levels.rest + height, -height, levels.noise), falling, plain, levels)
    return Edges(crossings(signal, levels.rest, height, levels.noise), falling, plain, levels)


def state_levels(signal: Signal) -> Levels:
    """Return rest, the target's levels to both sides of it, and the noise's standard deviation.

    First the peaks: the median over blocks whose peak reaches half of the fourth highest, so that neither silence
    nor up to three clicks counts (half of the highest where fewer than four blocks hold any pulse). Then the
    levels: medians of the samples beyond half of such a peak and of those between (the noise rides on a peak, but
    not on a median). Noise: the median absolute difference of neighbours, times 1.4826/√2.
    """
    n = len(signal)
    if n < 2:
        return Levels(0.0, 0.0, 0.0, 0.0)
    sample = np.concatenate([signal.part(i, j)[:: max(1, n // _SAMPLED)] for i, j in _blocks(n)])
    rest = float(np.median(sample))
    tops, bottoms, differences = [], [], []
    for i, j in _blocks(n):
        x = signal.part(i, j)
        differences.append(np.abs(np.diff(x[: 1 << 16])))
        tops.append(_peaks(x - rest))
        bottoms.append(_peaks(rest - x))
    noise = 1.4826 / np.sqrt(2) * float(np.median(np.concatenate(differences)))
    up, down = (_typical_peak(np.concatenate(peaks), noise) for peaks in (tops, bottoms))
    between = sample[(sample <= rest + 0.5 * up) & (sample >= rest - 0.5 * down)]
    settled = float(np.median(between)) if len(between) else rest
    shift = settled - rest
    return Levels(settled, _settled(sample - rest, up) - shift, _settled(rest - sample, down) + shift, noise)


def _peaks(x: FloatArray) -> FloatArray:
    """Return the highest value of each block, at least 0."""
    whole = len(x) // _PEAK_BLOCK * _PEAK_BLOCK
    rest = [x[whole:].max(keepdims=True, initial=0.0)] if whole < len(x) else []
    return np.concatenate([x[:whole].reshape(-1, _PEAK_BLOCK).max(axis=1, initial=0.0), *rest])


def _settled(x: FloatArray, peak: float) -> float:
    """Return the median of what lies beyond half of a peak, or the peak where nothing was sampled there."""
    beyond = x[x > 0.5 * peak]
    return float(np.median(beyond)) if peak > 0 and len(beyond) else peak


def _typical_peak(peaks: FloatArray, noise: float) -> float:
    ordered = np.sort(peaks)[::-1]
    highest = ordered[_CLICKS] if len(ordered) > _CLICKS else 0.0
    if not highest > _LEAST_HEIGHT_SIGMA * noise:  # so few blocks have a pulse that none can be spared
        highest = ordered[0]
    return max(float(np.median(peaks[peaks >= 0.5 * highest])), 0.0)


def _begins_down(signal: Signal, levels: Levels) -> bool:
    ups = crossings(signal, levels.rest, levels.up, levels.noise)
    downs = crossings(signal, levels.rest, -levels.down, levels.noise)
    return _wait(downs, ups) < _wait(ups, downs)


def _wait(first: FloatArray, then: FloatArray) -> float:
    """Return the median wait, in samples, from each of `first` to the next of `then`; infinite if there is none."""
    index = np.searchsorted(then, first)
    found = index < len(then)
    return float(np.median(then[index[found]] - first[found])) if found.any() else np.inf


def crossings(signal: Signal, rest: float, height: float, noise: float) -> FloatArray:
    """Return (n,) the instants, in samples, at which the signal comes from rest to rest + height (which may be below).

    An instant counts when the signal was seen under the hysteresis before: a recording that begins with the target
    present does not begin with a pulse.
    """
    band = min(max(_HALF_BAND, _BAND_SIGMA * noise / abs(height)), _WIDEST_HALF_BAND)
    state, last_low = 0, 0
    found: list[float] = []
    for i, j in _blocks(len(signal)):
        x = (signal.part(i, j) - rest) / height
        sure = np.flatnonzero((x >= 0.5 + band) | (x <= 0.5 - band))
        if len(sure) == 0:
            continue
        high = x[sure] >= 0.5
        before = np.concatenate(([state > 0], high[:-1]))
        known = np.concatenate(([state != 0], np.ones(len(high) - 1, bool)))
        low_at = np.concatenate(([last_low], sure[:-1] + i))
        found += [
            _instant(signal, rest, height, int(low_at[k]), int(sure[k]) + i)
            for k in np.flatnonzero(high & ~before & known).tolist()
        ]
        state = 1 if high[-1] else -1
        last_low = int(sure[-1]) + i
    return np.array(found, np.float64)


def _instant(signal: Signal, rest: float, height: float, low: int, high: int) -> float:
    """Return when the 50 % level is crossed between samples low (below) and high (above), in samples.

    A straight line is fitted by least squares to the transition's middle half: the average over its samples takes
    the noise down, and with two samples it is the linear interpolation.
    """
    reach = 4 * (high - low) + 8
    start = max(low - reach, 0)
    x = (signal.part(start, min(high + reach + 1, len(signal))) - rest) / height
    below = np.flatnonzero(x[low - start : high - start] < 0.5)
    j = low - start + (int(below[-1]) if len(below) else 0)  # the last sample under 50 %
    under = np.flatnonzero(x[: j + 1] <= _FIT_FROM)
    over = np.flatnonzero(x[j + 1 :] >= _FIT_TO)
    first = int(under[-1]) + 1 if len(under) else 0
    last = j + int(over[0]) if len(over) else len(x) - 1
    middle = j + 0.5
    half = min(middle - min(first, j), max(last, j + 1) - middle)  # the same length to both sides: no bias from bends
    k = np.arange(int(np.ceil(middle - half)), int(middle + half) + 1)
    slope, mean = _line(k, x[k])
    return float(start + k.mean() + (0.5 - mean) / slope) if slope > 0 else float(start + middle)


def _line(k: np.ndarray, x: FloatArray) -> tuple[float, float]:
    """Return slope and mean of the least-squares line through x (n,) at k (n,)."""
    d = k - k.mean()
    return float(d @ x / (d @ d)), float(x.mean())


def _blocks(n: int) -> Iterator[tuple[int, int]]:
    for i in range(0, n, _BLOCK):
        yield i, min(i + _BLOCK, n)
