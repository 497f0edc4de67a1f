"""Steps from passages: what wasn't seen or was stamped wrongly keeps the count and blurs nothing."""

import numpy as np
import pytest

from whorlpulse.actions.recording import read_recording
from whorlpulse.conditioning import condition
from whorlpulse.estimators.ratio import estimate_ratio
from whorlpulse.estimators.wheel_steps import Piece, series_of
from whorlpulse.rig import Rig


def piece(y, passage=None):
    passage = np.arange(len(y)) if passage is None else passage
    return Piece(0, passage.astype(float), y, passage)


def level(targets=1, turns=40, q=0.01, seed=0):
    """Flyer turns at every passage: uneven targets, slip of q a step."""
    rng = np.random.default_rng(seed)
    usual = 8.4 * np.array([[1.0], [0.4, 0.6], [0.2, 0.3, 0.5]][targets - 1], dtype=float)
    n = turns * targets
    return np.concatenate(([0.0], np.cumsum(usual[np.arange(n) % targets] + q * rng.standard_normal(n)))), usual


def total(series):
    """All flyer turns that a series stands for."""
    steps = sum(float(s.d.sum()) for s in series.common)
    ordinary = np.concatenate([s.d for s in series.common]).mean()
    return steps + float(series.outliers.sum()) + series.left_out * ordinary


@pytest.mark.parametrize("targets", [1, 2, 3])
@pytest.mark.parametrize("gone", [[10], [10, 11], [5, 20, 30]])
def test_a_passage_or_two_not_seen_keep_every_turn_and_the_series_whole(targets, gone):
    y, _ = level(targets)
    kept = np.setdiff1d(np.arange(len(y)), gone)
    found = series_of([piece(y[kept], kept)], targets)
    assert len(found.common) == 1
    assert len(found.common[0].d) == len(y) - 1
    assert found.left_out == 0
    assert found.common[0].d.sum() == pytest.approx(y[-1], abs=1e-9)
    # each put in where the steps around it say: off by the slip of a step or two, not by the targets' unevenness
    np.testing.assert_allclose(np.cumsum(found.common[0].d), y[1:], atol=0.05)


def test_more_than_two_not_seen_break_the_series_but_not_the_count():
    y, _ = level()
    kept = np.setdiff1d(np.arange(len(y)), [10, 11, 12, 13])
    found = series_of([piece(y[kept], kept)], 1)
    assert [len(s.d) for s in found.common] == [9, 26]
    assert found.left_out == 5
    assert total(found) == pytest.approx(y[-1], abs=1e-9)


def test_a_passage_stamped_wrongly_is_taken_for_not_seen():
    y, _ = level(q=0.001)
    off = y.copy()
    off[17] += 0.05
    found = series_of([piece(off)], 1)
    assert found.left_out == 0
    assert len(found.common[0].d) == 40
    assert np.cumsum(found.common[0].d)[16] == pytest.approx(y[17], abs=0.005)
    assert found.common[0].d.sum() == pytest.approx(y[-1], abs=1e-9)


def test_a_burst_is_no_wrong_stamp():
    y, _ = level(q=0.001)
    y[18:] -= 0.6
    found = series_of([piece(y)], 1)
    assert found.left_out == 1
    assert found.outliers == pytest.approx([-0.6], abs=0.01)
    assert total(found) == pytest.approx(y[-1], abs=1e-9)


def test_a_flyer_that_is_blind_at_every_wheel_passage_is_counted_all_the_same():
    # ten flyer turns a wheel turn, each tenth flyer pulse lost where the wheel's comes
    t = 0.1 * np.arange(600)
    lines = [f"{'w' if i % 10 == 0 else 'f'},{round(1e6 * s)},{i}\n" for i, s in enumerate(t)]
    log = read_recording(lambda: [b"# tick_bits: 0\n", "".join(lines).encode()], "blind").log
    found = estimate_ratio(condition(log.rows, Rig(tick_bits=0)), 1e6).ratio
    assert found is not None
    assert found.value == pytest.approx(10.0, abs=1e-6)
