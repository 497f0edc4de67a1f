"""Thinned series stay true: minima, maxima and what was to be kept survive, whatever the series."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from whorlpulse.views.charts.thinning import joined, largest, thinned

finite = st.floats(-1e6, 1e6, allow_nan=False, width=32)
series = st.integers(1, 800).flatmap(lambda n: arrays(np.float64, n, elements=finite))


@given(series, st.integers(4, 300), st.data())
def test_extremes_ends_and_kept_points_survive(y, most, data):
    keep = data.draw(st.lists(st.integers(0, len(y) - 1), max_size=5))
    i = thinned(y, most, keep)
    assert (np.diff(i) > 0).all()
    assert {0, len(y) - 1, *(keep if len(y) > most else ())} <= set(i.tolist())
    assert y[i].min() == y.min()
    assert y[i].max() == y.max()
    assert len(i) <= max(most, len(y) if len(y) <= most else 0) + len(keep)


@given(series, st.integers(4, 60))
def test_any_window_of_two_buckets_keeps_its_extremes(y, most):
    """Zoomed in to any window as wide as two buckets or more, the line reaches as far as the series inside it does."""
    i = thinned(y, most)
    if len(i) == len(y):
        return
    bucket = -(-len(y) // max((most - 2) // 2, 1))
    for start in range(0, len(y) - bucket, bucket):
        window = slice(max(start - bucket, 0), start + 2 * bucket)
        inner = y[start : start + bucket]
        shown = y[i[(i >= window.start) & (i < window.stop)]]
        assert shown.min() <= inner.min()
        assert shown.max() >= inner.max()


@given(st.lists(series, min_size=1, max_size=12), st.integers(8, 200))
def test_pieces_stay_apart_and_keep_their_extremes(pieces, most):
    starts = np.cumsum([0, *(len(y) for y in pieces)])
    rows = joined([(np.arange(len(y)) + s, y) for y, s in zip(pieces, starts[:-1], strict=True)], most)
    every = np.concatenate(pieces)
    drawn = [r["y"] for r in rows if r["y"] is not None]
    assert (min(drawn), max(drawn)) == (every.min(), every.max())
    gaps = sum(r["y"] is None for r in rows)
    assert gaps in (0, len(pieces) - 1)
    if len(pieces) <= most // 4:
        assert gaps == len(pieces) - 1
        parts = np.split(rows, [i for i, r in enumerate(rows) if r["y"] is None])
        for y, part in zip(pieces, parts, strict=True):
            shown = [r["y"] for r in part if r["y"] is not None]
            assert (min(shown), max(shown)) == (y.min(), y.max())
    else:
        assert len(rows) <= max(most, len(every) if len(every) <= most else 0)


@given(st.lists(st.tuples(st.floats(0, 1e5), st.floats(0.1, 50)), min_size=1, max_size=400), st.integers(1, 80))
def test_the_largest_event_of_every_part_is_drawn(events, most):
    x, size = (np.array(part) for part in zip(*events, strict=True))
    i = largest(x, size, most)
    assert len(i) <= max(most, len(x) if len(x) <= most else 0)
    assert size[i].max() == size.max()
    if len(x) <= most:
        return
    low, wide = x.min(), max(x.max() - x.min(), 1e-12)
    for part in np.unique(np.minimum(((x - low) / wide * most).astype(int), most - 1)):
        inside = np.minimum(((x - low) / wide * most).astype(int), most - 1) == part
        assert size[inside].max() in size[i]
