"""Sensor signals with known edges, as samples: the truth that the importers are checked against."""

from __future__ import annotations

import io

import numpy as np
from scipy.io import wavfile
from scipy.signal import lfilter

from whorlpulse.importers import NothingFound, Unreadable


def ramped(t_s, at_s, rise_s, width_s):
    """A signal at t_s (n,) that ramps from 0 to 1, crossing 1/2 at each of at_s, and back width_s later."""
    up = np.interp(t_s, *_corners(at_s, rise_s))
    down = np.interp(t_s, *_corners(np.asarray(at_s) + width_s, rise_s))
    return up - down


def _corners(at_s, rise_s):
    times = np.stack([np.asarray(at_s) - rise_s / 2, np.asarray(at_s) + rise_s / 2], axis=1).ravel()
    steps = np.arange(2 * len(at_s)) // 2 + np.tile([0, 1], len(at_s))
    return times, steps


def noisy(x, rng, snr_db):
    """x with white noise whose deviation lies snr_db below the pulse's height (amplitude ratio)."""
    return x + 10 ** (-snr_db / 20) * rng.standard_normal(len(x))


def passes_changes_only(x, rate_hz, corner_hz):
    """x behind the first-order high-pass that a sound card's input has."""
    keep = np.exp(-2 * np.pi * corner_hz / rate_hz)
    return lfilter([1.0, -1.0], [1.0, -keep], x)


def wav_bytes(rate_hz, samples):
    """A WAV file as scipy writes it."""
    file = io.BytesIO()
    wavfile.write(file, rate_hz, samples)
    return file.getvalue()


def int16(x):
    return np.clip(np.rint(x * 32767), -32768, 32767).astype(np.int16)


def turning(rng, count, mean_s, spread):
    """count rising times, uneven as treadling is."""
    return 0.3 + np.cumsum(mean_s * (1 + spread * rng.uniform(-1, 1, count)))


def refusal(read):
    """What an importer says when it refuses, empty when it reads; any other exception fails the test."""
    try:
        read()
    except (Unreadable, NothingFound) as said:
        return str(said)
    return ""
