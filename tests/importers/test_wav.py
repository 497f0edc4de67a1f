"""WAV: files written by scipy (and sox where installed) hold edges at known times; the importer must find them."""

from __future__ import annotations

import subprocess
import wave
from io import BytesIO

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.io import wavfile
from tests.importers.signals import int16, noisy, passes_changes_only, ramped, refusal, turning, wav_bytes
from tests.tools import require_tool

from whorlpulse.importers import NothingFound, Unreadable
from whorlpulse.importers.wav import TICK_HZ, from_wav, read_wave

RATE_HZ = 44100
#: The bar of the project for clean ramped edges at 40 dB and 44.1 kHz.
BAR_S = 5e-6


def times_s(recording, letter):
    return recording.tick[recording.channel == ord(letter)] / TICK_HZ


def rms(x):
    return float(np.sqrt(np.mean(np.square(x))))


@pytest.mark.parametrize("rise_s", [5e-5, 2e-4, 5e-4, 1e-3, 3e-3])
def test_edges_at_40_db_are_placed_within_5_us(rise_s):
    rng = np.random.default_rng(round(1e6 * rise_s))
    t_s = np.arange(30 * RATE_HZ) / RATE_HZ
    wheel = turning(rng, 26, 1.0, 0.2)
    flyer = turning(rng, 160, 0.17, 0.2)
    sides = [0.5 * noisy(ramped(t_s, at, rise_s, 0.02), rng, 40) for at in (wheel, flyer)]
    found = from_wav(wav_bytes(RATE_HZ, int16(np.stack(sides, axis=1))))
    for letter, truth in (("w", wheel), ("f", flyer)):
        got = times_s(found, letter)
        assert len(got) == len(truth)
        assert rms(got - truth) <= BAR_S
    assert found.watched == (0, 30 * TICK_HZ)
    assert any("guessed: left=w, right=f" in note for note in found.notes)


def test_a_bend_in_the_edge_moves_all_edges_alike():
    """A magnet's approach is no ramp: the instants may shift, but their intervals, which are all that counts, not."""
    rng = np.random.default_rng(5)
    t_s = np.arange(20 * RATE_HZ) / RATE_HZ
    truth = turning(rng, 90, 0.2, 0.0)
    x = sum(np.exp(-0.5 * ((t_s - at) / 0.004) ** 2) for at in truth)
    got = times_s(from_wav(wav_bytes(RATE_HZ, int16(0.5 * noisy(x, rng, 40)))), "f")
    assert len(got) == len(truth)
    error = got - truth
    # the level of a rounded top lies between 80 % and all of its peak, so half of it at 40 to 50 % of the Gaussian
    assert 0.004 * np.sqrt(2 * np.log(2)) < -np.mean(error) < 0.004 * np.sqrt(2 * np.log(2.5))
    # 40 dB on a slope of about 0.15 per ms: 70 us for one sample, over the root of the samples fitted
    assert np.std(error) < 20e-6


@pytest.mark.parametrize("falling", [False, True])
@pytest.mark.parametrize("corner_hz", [0.0, 3.0, 20.0, 150.0])
def test_polarity_is_found_whatever_the_sound_card_lets_through(falling, corner_hz):
    rng = np.random.default_rng(7)
    t_s = np.arange(20 * RATE_HZ) / RATE_HZ
    truth = turning(rng, 80, 0.22, 0.2)
    x = ramped(t_s, truth, 3e-4, 0.015) * (-1 if falling else 1) + (0.9 if falling else 0.0)
    if corner_hz:
        x = passes_changes_only(x, RATE_HZ, corner_hz)
    found = from_wav(wav_bytes(RATE_HZ, int16(0.3 * noisy(x, rng, 40))))
    got = times_s(found, "f")
    assert len(got) == len(truth)
    assert np.abs(got - truth).max() < 1e-4  # not the pulse's end, which is 15 ms later
    assert any(("falling" if falling else "rising") in note for note in found.notes)


def test_asked_polarity_takes_the_other_edge():
    rng = np.random.default_rng(8)
    t_s = np.arange(10 * RATE_HZ) / RATE_HZ
    truth = turning(rng, 40, 0.2, 0.1)
    data = wav_bytes(RATE_HZ, int16(0.4 * noisy(ramped(t_s, truth, 3e-4, 0.015), rng, 40)))
    assert np.abs(times_s(from_wav(data, falling=True), "f") - truth - 0.015).max() < 1e-4
    assert np.abs(times_s(from_wav(data, falling=False), "f") - truth).max() < 1e-4


def test_hum_clicks_and_a_long_silence_make_no_pulses():
    rng = np.random.default_rng(9)
    t_s = np.arange(60 * RATE_HZ) / RATE_HZ
    truth = 40 + turning(rng, 12, 1.0, 0.1)
    x = ramped(t_s, truth, 4e-4, 0.01) + 0.15 * np.sin(2 * np.pi * 50 * t_s)
    x[[5 * RATE_HZ, 20 * RATE_HZ]] += 2.5  # two clicks of one sample, higher than any pulse
    got = times_s(from_wav(wav_bytes(RATE_HZ, int16(0.3 * noisy(x, rng, 40)))), "f")
    near = np.abs(got[:, None] - truth).min(axis=1) < 1e-3
    assert near.sum() == len(truth)
    assert len(got) - near.sum() == 2  # the clicks are in the data, and are left for the checks to judge


def test_begins_with_the_target_present():
    t_s = np.arange(5 * RATE_HZ) / RATE_HZ
    x = ramped(t_s, np.array([-0.01, 1.0, 2.0, 3.0]), 1e-3, 0.1)
    got = times_s(from_wav(wav_bytes(RATE_HZ, int16(0.5 * x))), "f")
    assert got == pytest.approx([1.0, 2.0, 3.0], abs=BAR_S)


@pytest.mark.parametrize(
    ("dtype", "scale", "offset"),
    [(np.uint8, 127, 128), (np.int16, 32767, 0), (np.int32, 2**31 - 1, 0), (np.float32, 1, 0), (np.float64, 1, 0)],
)
def test_every_sample_format_of_scipy(dtype, scale, offset):
    t_s = np.arange(5 * RATE_HZ) / RATE_HZ
    truth = np.array([0.5, 1.25, 2.5, 4.0])
    x = 0.8 * ramped(t_s, truth, 1e-3, 0.02) * scale + offset
    data = wav_bytes(RATE_HZ, (np.rint(x) if scale != 1 else x).astype(dtype))
    assert times_s(from_wav(data, {"mono": "w"}), "w") == pytest.approx(truth, abs=BAR_S)
    rate_hz, outside = wavfile.read(BytesIO(data))
    ours = read_wave(data).channel(1).part(1000, 60000)
    assert rate_hz == read_wave(data).rate_hz
    span = {np.uint8: 128.0, np.int16: 2.0**15, np.int32: 2.0**31}.get(dtype, 1.0)
    assert ours == pytest.approx((outside[1000:60000].astype(float) - offset) / span, abs=1e-12)


def test_24_bits_as_the_standard_library_writes_them():
    t_s = np.arange(3 * RATE_HZ) / RATE_HZ
    truth = np.array([0.5, 1.25, 2.5])
    values = np.rint(0.7 * ramped(t_s, truth, 1e-3, 0.02) * (2**23 - 1)).astype("<i4")
    file = BytesIO()
    with wave.open(file, "wb") as out:
        out.setparams((1, 3, RATE_HZ, 0, "NONE", ""))
        out.writeframes(values.view(np.uint8).reshape(-1, 4)[:, :3].tobytes())
    assert times_s(from_wav(file.getvalue()), "f") == pytest.approx(truth, abs=BAR_S)


def test_a_file_that_sox_wrote(tmp_path):
    sox = require_tool("sox")
    path = tmp_path / "synth.wav"
    # a square wave of 5 Hz, high first: its rising edges come every 0.2 s
    subprocess.run([sox, "-n", "-r", "44100", "-b", "24", path, "synth", "4", "square", "5", "vol", "0.5"], check=True)
    found = from_wav(path.read_bytes())
    steps = np.diff(times_s(found, "f"))
    assert len(steps) >= 17
    assert steps == pytest.approx(0.2, abs=2 / RATE_HZ)


def test_four_channels_by_number():
    t_s = np.arange(3 * RATE_HZ) / RATE_HZ
    truths = [np.array([0.5, 1.5]), np.array([0.7, 1.1, 1.5]), np.array([0.2]), np.array([0.4, 2.0])]
    sides = np.stack([0.5 * ramped(t_s, at, 1e-3, 0.02) for at in truths], axis=1)
    found = from_wav(wav_bytes(RATE_HZ, int16(sides)), {"1": "w", "2": "f", "4": "y"})
    for letter, truth in (("w", truths[0]), ("f", truths[1]), ("y", truths[3])):
        assert times_s(found, letter) == pytest.approx(truth, abs=BAR_S)


def test_a_cut_off_file_is_used_up_to_its_end():
    t_s = np.arange(3 * RATE_HZ) / RATE_HZ
    data = wav_bytes(RATE_HZ, int16(0.5 * ramped(t_s, np.array([0.5, 1.0, 2.9]), 1e-3, 0.02)))
    found = from_wav(data[: len(data) * 2 // 3 + 1])
    assert times_s(found, "f") == pytest.approx([0.5, 1.0], abs=BAR_S)
    assert any("shorter than its header says" in note for note in found.notes)


def test_swapped_plugs_are_suspected():
    t_s = np.arange(5 * RATE_HZ) / RATE_HZ
    many, few = np.arange(0.2, 4.8, 0.2), np.array([1.0, 2.0])
    sides = np.stack([0.5 * ramped(t_s, at, 1e-3, 0.02) for at in (many, few)], axis=1)
    assert any("swapped" in note for note in from_wav(wav_bytes(RATE_HZ, int16(sides))).notes)


def test_noise_and_silence_hold_no_pulse():
    rng = np.random.default_rng(3)
    for x in (
        0.01 * rng.standard_normal(10 * RATE_HZ),
        np.zeros(10 * RATE_HZ),
        3e-5 * (rng.random(10 * RATE_HZ) > 0.5),
    ):
        with pytest.raises(NothingFound, match="no pulse"):
            from_wav(wav_bytes(RATE_HZ, int16(x)))


def test_what_is_no_pcm_says_so():
    data = bytearray(wav_bytes(RATE_HZ, np.zeros(10, np.int16)))
    data[20:22] = (2).to_bytes(2, "little")  # ADPCM
    with pytest.raises(Unreadable, match="coding 2 with 16 bits"):
        from_wav(bytes(data))
    with pytest.raises(Unreadable, match="no WAV file"):
        from_wav(b"RIFFxxxxAVI ")
    with pytest.raises(Unreadable, match="no side 'right'"):
        from_wav(wav_bytes(RATE_HZ, np.zeros(10, np.int16)), {"right": "f"})


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 60), st.binary(max_size=40), st.integers(0, 300))
def test_any_bytes_are_safe(at, patch, length):
    good = bytearray(wav_bytes(RATE_HZ, np.zeros((60, 2), np.int16)))
    good[at : at + len(patch)] = patch
    assert "\n" not in refusal(lambda: from_wav(bytes(good[:length])))
