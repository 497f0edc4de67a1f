"""Which whorl of the file a ratio belongs to: as `ratio` names it, and never silently where another could be meant."""

from hypothesis import given
from hypothesis import strategies as st

from whorlpulse.actions.measure_ratio import _whorl_lines
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.ratio import WhorlRatio
from whorlpulse.estimators.whorl_match import match_whorls
from whorlpulse.rig import Rig, Whorl


def test_each_ratio_gets_its_nearest_whorl():
    found = match_whorls([6.19, 8.43, 11.6], [11.7, 6.21, 8.47])
    assert [m.index for m in found] == [1, 2, 0]
    assert all(m.sure for m in found)


def test_a_ratio_far_from_all_has_none():
    (found,) = match_whorls([7.2], [6.21, 8.47])
    assert found.index is None
    assert not found.rivals


def test_two_whorls_nearly_as_near_are_rivals():
    (found,) = match_whorls([6.2], [6.1, 6.35])
    assert found.index == 0
    assert found.rivals == (1,)
    assert not found.sure


def test_a_rival_far_off_is_none():
    (found,) = match_whorls([6.2], [6.19, 6.6])
    assert found.sure


def test_two_ratios_for_one_whorl_are_both_unsure():
    low, high = match_whorls([6.0, 6.26], [6.12])
    assert not low.sure
    assert not high.sure


def test_a_whorl_of_unknown_ratio_is_never_matched():
    assert match_whorls([6.0], [None])[0].index is None


RATIOS = st.lists(st.floats(3.0, 25.0), min_size=1, max_size=5, unique=True)


@given(RATIOS, RATIOS)
def test_names_are_those_that_ratio_gives(found, known):
    rig = Rig(whorls=tuple(Whorl(f"n{i}", ratio=r, ratio_u=0.01) for i, r in enumerate(known)))
    lines, _ = _whorl_lines([WhorlRatio(Measured(r, 1e-4), (i,)) for i, r in enumerate(found)], rig)
    matches = match_whorls(found, known)
    assert [line.name for line in lines] == [None if m.index is None else f"n{m.index}" for m in matches]
