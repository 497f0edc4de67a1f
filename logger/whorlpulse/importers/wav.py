"""WAV (RIFF/WAVE, PCM of 8, 16, 24 or 32 bits and IEEE floats of 32 or 64): a sensor on a sound-card input.

The layout of chunks and formats is that of Microsoft's and IBM's "Multimedia Programming Interface and Data
Specifications 1.0" with WAVE_FORMAT_EXTENSIBLE (from memory; the tests read files written by scipy and sox).
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from whorlpulse.importers.edges import Edges, find_edges
from whorlpulse.importers.recording import NothingFound, Recording, Unreadable, merged
from whorlpulse.pulses import FloatArray, IntArray

#: The crossing between two samples is kept to a tenth of a microsecond.
TICK_HZ: Final = 10_000_000
#: Full scale of floats is 1, but some recorders write whole numbers as floats; beyond that is no sound.
_LOUDEST: Final = 2.0**40
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_SIDES: Final = {"left": 1, "right": 2, "mono": 1}
_NAMES: Final = {1: ("mono",), 2: ("left", "right")}


@dataclass(frozen=True)
class Wave:
    """Samples as they lie in the file: bytes of whole frames, not yet numbers."""

    rate_hz: int
    channels: int
    bytes_each: int
    is_float: bool
    frames: memoryview
    torn: bool

    def __len__(self) -> int:
        return len(self.frames) // (self.channels * self.bytes_each)

    @property
    def grain(self) -> float:
        """The smallest step of a sample, as a fraction of full scale; 0 for floats."""
        return 0.0 if self.is_float else 2.0 ** (1 - 8 * self.bytes_each)

    def channel(self, number: int) -> WaveChannel:
        """Return channel `number`, counted from 1."""
        return WaveChannel(self, number - 1)


@dataclass(frozen=True)
class WaveChannel:
    """One channel as a signal; full scale is 1."""

    wave: Wave
    index: int

    def __len__(self) -> int:
        return len(self.wave)

    def part(self, start: int, stop: int) -> FloatArray:
        """Return samples start..stop-1, as fractions of full scale (8-bit ones are unsigned in the file)."""
        w = self.wave
        frame = w.channels * w.bytes_each
        raw = np.frombuffer(w.frames[start * frame : stop * frame], np.uint8).reshape(-1, w.channels, w.bytes_each)
        mine = np.ascontiguousarray(raw[:, self.index, :])
        if w.is_float:
            with np.errstate(invalid="ignore"):  # a signalling NaN becomes a quiet one
                values = mine.view(f"<f{w.bytes_each}")[:, 0].astype(np.float64)
            return np.clip(np.nan_to_num(values, nan=0.0, posinf=1.0, neginf=-1.0), -_LOUDEST, _LOUDEST)
        if w.bytes_each == 1:
            return (mine[:, 0].astype(np.float64) - 128.0) / 128.0
        wide = np.zeros((len(mine), 4), np.uint8)
        wide[:, 4 - w.bytes_each :] = mine
        return wide.view("<i4")[:, 0] / 2.0**31


def read_wave(data: bytes) -> Wave:
    """Return the samples of a WAV file. Raises Unreadable for what is none, or has another coding.

    A length in the header that is beyond the file's end (a recorder that was cut off, or wrote to a pipe) is
    taken for "up to the end".
    """
    if data[:4] not in (b"RIFF", b"RF64") or data[8:12] != b"WAVE":
        raise Unreadable("is no WAV file: it does not begin with RIFF and WAVE; record it again as PCM WAV")
    layout: tuple[int, int, int, int] | None = None
    at = 12
    while at + 8 <= len(data):
        name, size = struct.unpack_from("<4sI", data, at)
        at += 8
        if name == b"fmt ":
            layout = _layout(data[at : at + size])
        elif name == b"data":
            if layout is None:
                raise Unreadable("has its samples before their format (no 'fmt ' chunk): save it again as PCM WAV")
            return _wave(layout, memoryview(data)[at : at + size], size)
        at += size + size % 2
    raise Unreadable("has no samples (no 'data' chunk): the recording was cut off before it began")


def _layout(chunk: bytes) -> tuple[int, int, int, int]:
    """Return coding, channels, rate in Hz and bits of a `fmt ` chunk."""
    if len(chunk) < 16:
        raise Unreadable("has a 'fmt ' chunk that is too short: save it again as PCM WAV")
    coding, channels, rate, _, _, bits = struct.unpack_from("<HHIIHH", chunk)
    if coding == _EXTENSIBLE and len(chunk) >= 26:
        coding = struct.unpack_from("<H", chunk, 24)[0]  # the sub-format's first two bytes
    known = (coding == _PCM and bits in (8, 16, 24, 32)) or (coding == _FLOAT and bits in (32, 64))
    if not known:
        raise Unreadable(
            f"has samples of coding {coding} with {bits} bits; "
            "only PCM of 8, 16, 24 or 32 bits and floats of 32 or 64 can be read: save it as 16-bit PCM"
        )
    if channels < 1 or rate < 1:
        raise Unreadable(f"says {channels} channels at {rate} Hz, which cannot be: save it again as PCM WAV")
    return coding, channels, rate, bits


def _wave(layout: tuple[int, int, int, int], frames: memoryview, said: int) -> Wave:
    coding, channels, rate, bits = layout
    whole = len(frames) // (channels * bits // 8) * (channels * bits // 8)
    return Wave(rate, channels, bits // 8, coding == _FLOAT, frames[:whole], len(frames) < said)


def from_wav(data: bytes, channels: Mapping[str, str] | None = None, *, falling: bool | None = None) -> Recording:
    """Return the pulses of a WAV file.

    channels: which side carries which shaft, {"left": "w", "right": "f"}; sides are left, right, mono or a number
    from 1; None: guessed, and said in a note. falling: the target pulls the signal down; None: found out.
    Raises Unreadable, and NothingFound when no side has a pulse.
    """
    wave = read_wave(data)
    if len(wave) == 0:
        raise NothingFound("has a header but no sample: the recording was cut off before it began")
    notes = [
        f"{len(wave)} samples at {wave.rate_hz} Hz, {_kind(wave)}; tick_hz {TICK_HZ} chosen, "
        "crossings lie between samples"
    ]
    if wave.torn:
        notes.append("the file is shorter than its header says; used up to its end")
    sides = _sides(wave, channels, notes)
    found: dict[str, IntArray] = {}
    for letter, number in sides.items():
        edges = find_edges(wave.channel(number), falling=falling, grain=wave.grain)
        found[letter] = _ticks(edges, wave.rate_hz)
        notes.append(_told(letter, _side_name(number, wave.channels), edges, guessed=falling is None))
    if not any(len(t) for t in found.values()):
        raise NothingFound(
            f"no pulse stands out of the noise in {len(wave) / wave.rate_hz:.1f} s: check the sensor, the plug and the "
            "recording level"
        )
    if channels is None and len(found.get("w", ())) > len(found.get("f", ())) > 0:
        notes.append("the wheel has more pulses than the flyer: if the plugs were swapped, use left=f,right=w")
    return merged(TICK_HZ, found, notes, (0, round(len(wave) / wave.rate_hz * TICK_HZ)))


def _kind(wave: Wave) -> str:
    return f"{8 * wave.bytes_each}-bit {'float' if wave.is_float else 'PCM'}, {wave.channels} channel(s)"


def _sides(wave: Wave, channels: Mapping[str, str] | None, notes: list[str]) -> dict[str, int]:
    """Return the side's number for each shaft's letter."""
    if channels is None:
        guess = {"f": 1} if wave.channels == 1 else {"w": 1, "f": 2}
        told = ", ".join(f"{_side_name(n, wave.channels)}={c}" for c, n in guess.items())
        notes.append(f"channels guessed: {told}")
        return guess
    sides: dict[str, int] = {}
    for side, letter in channels.items():
        number = _SIDES.get(side, int(side) if side.isascii() and side.isdigit() and len(side) < 4 else 0)
        if not 1 <= number <= wave.channels:
            there = ", ".join(_side_name(n, wave.channels) for n in range(1, wave.channels + 1)[:8])
            raise Unreadable(f"has no side {side!r}: it has {there}; name one of them in --channels")
        sides[letter] = number
    return sides


def _side_name(number: int, channels: int) -> str:
    return _NAMES[channels][number - 1] if channels in _NAMES else str(number)


def _ticks(edges: Edges | None, rate_hz: int) -> IntArray:
    if edges is None:
        return np.empty(0, np.int64)
    return np.rint(edges.at * (TICK_HZ / rate_hz)).astype(np.int64)


def _told(letter: str, side: str, edges: Edges | None, *, guessed: bool) -> str:
    if edges is None:
        return f"{letter} from {side}: nothing stands out of the noise"
    way = "falling" if edges.falling else "rising"
    sure = f" (guessed{' from the levels' if edges.plain else ': peaks go both ways'})" if guessed else ""
    level = edges.levels.rest + 0.5 * (-edges.levels.down if edges.falling else edges.levels.up)
    return f"{letter} from {side}: {len(edges.at)} pulses, {way} through {level:.4f} of full scale{sure}"
