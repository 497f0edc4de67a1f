"""Take-ups parted by hand-made pauses; twitches; what is refused."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from whorlpulse.estimators.take_ups import pause_s, take_ups, usual_wait_s


def passages(draws=6, each=20, quick_s=0.05, pause=5.0):
    """Each draw: `each` passages quick_s apart, then a pause."""
    return np.concatenate([k * (each * quick_s + pause) + quick_s * np.arange(each) for k in range(draws)])


def at_8_turns_a_second(t_s):
    return 8.0 * t_s


def test_six_draws_by_hand():
    t = passages()
    found = take_ups(t, at_8_turns_a_second(t))
    assert found.first.tolist() == [0, 20, 40, 60, 80, 100]
    assert found.last.tolist() == [19, 39, 59, 79, 99, 119]
    # begun one wait before the first passage, in one wait after the last
    np.testing.assert_allclose(found.begin_s, t[found.first] - 0.05, atol=1e-9)
    np.testing.assert_allclose(found.end_s, t[found.last] + 0.05, atol=1e-9)


def test_the_threshold_lies_between_the_two_kinds_of_waits():
    waits = np.diff(passages())
    assert usual_wait_s(waits) == pytest.approx(0.05)
    # pauses beyond 30 usual waits count as 30: √(0.05 · 1.5)
    assert pause_s(waits) == pytest.approx(np.sqrt(0.05 * 1.5))


def test_one_rest_of_an_hour_among_the_pauses_changes_nothing():
    t = passages()
    t[60:] += 3600.0
    found = take_ups(t, np.concatenate([8.0 * t[:60], 8.0 * (t[60:] - 3600.0)]))
    assert found.last.tolist() == [19, 39, 59, 79, 99, 119]


def test_a_twitch_of_the_roller_is_no_draw_and_its_yarn_goes_with_the_next():
    t = np.sort(np.append(passages(), passages()[39] + 2.5))
    found = take_ups(t, at_8_turns_a_second(t))
    assert len(found.first) == 6
    assert np.diff(found.last).tolist() == [20, 21, 20, 20, 20]


@pytest.mark.parametrize(
    "t", [np.empty(0), np.array([1.0]), np.array([1.0, 2.0, 3.0]), np.linspace(0.0, 60.0, 200)], ids=len
)
def test_too_few_passages_or_even_ones_have_no_take_ups(t):
    assert take_ups(t, at_8_turns_a_second(t)) is None


def test_pauses_in_which_the_flyer_stood_are_rests_and_part_no_draws():
    t = passages(pause=60.0)
    made = np.cumsum(np.append(0.0, np.where(np.diff(t) > 1, 0.3, 0.4)))
    assert take_ups(t, made) is None


def test_unknown_turns_leave_the_question_to_the_others():
    t = passages()
    turns = at_8_turns_a_second(t)
    turns[10:15] = np.nan
    assert len(take_ups(t, turns).first) == 6


@settings(max_examples=60, deadline=None)
@given(st.integers(2, 12), st.integers(4, 40), st.floats(0.01, 0.2), st.floats(1.0, 60.0), st.integers(0, 2**31))
def test_draws_with_uneven_waits_are_parted_whatever_their_pace(draws, each, quick_s, pause, seed):
    """Waits within a draw vary by a factor of 1.8; pauses are four times longer than any, and as long as a take-up."""
    rng = np.random.default_rng(seed)
    waits = quick_s * rng.uniform(1.0, 1.8, draws * each - 1)
    waits[each - 1 :: each] = max(pause, 8 * quick_s, 1.8 * each * quick_s) * rng.uniform(1.0, 3.0, draws - 1)
    t = np.concatenate(([0.0], np.cumsum(waits)))
    found = take_ups(t, 8.0 * t)
    assert found.last.tolist() == [each * (k + 1) - 1 for k in range(draws)]
    assert (found.begin_s <= t[found.first]).all()
    assert (found.end_s >= t[found.last]).all()
    assert (found.begin_s[1:] >= found.end_s[:-1]).all()
