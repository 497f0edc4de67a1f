"""The drift of a noisy level against dense least squares, closed forms, scipy's sine transform and statsmodels.

The dense solution is written from the model alone (a covariance matrix and the textbook formula for predicting a linear
function of fixed and random effects, Goldberger 1962, from memory); it shares no code with the package.
"""

import warnings
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.fft import dst
from scipy.linalg import block_diag

from whorlpulse.estimators import step_spectrum
from whorlpulse.estimators.level_series import NoiseMix, TimingPrior, drift, noise_mix
from whorlpulse.estimators.step_spectrum import Steps, spectrum

#: u is read off a bisected 95 % interval and divided by 1.959964, which is rounded at 8e-9 of itself.
U_REL = 3e-8


def fixed(lam, sigma2, unseen=0.0):
    """A mix that knows its noise."""
    return NoiseMix(np.array([lam]), np.zeros(1), np.ones(1), np.array([sigma2]), np.inf, unseen)


def series(rng, turns, targets, q, sigma, gaps):
    """Steps over whole turns, drawn from the model, and the ratio really made."""
    n = turns * targets
    first = int(rng.integers(targets))
    target = (first + np.arange(n)) % targets
    level = gaps[target] + q * rng.standard_normal(n)
    d = level + np.diff(sigma * rng.standard_normal(n + 1))
    return Steps(d, target), level


def dense(many, targets, lam, sigma2, unseen=0.0):
    """Return (prediction, its error variance) of the ratio made, and (r, var r) of the drift, by dense matrices."""
    corner = block_diag(*[np.eye(len(s.d)) - unseen * toeplitz(len(s.d)) for s in many])
    V = sigma2 * (lam * corner + block_diag(*[toeplitz(len(s.d)) for s in many]))
    d = np.concatenate([s.d for s in many])
    X = np.zeros((len(d), targets))
    X[np.arange(len(d)), np.concatenate([s.target for s in many])] = 1.0
    W = np.linalg.inv(V)
    N = np.linalg.inv(X.T @ W @ X)
    c = N @ X.T @ W @ d
    g, h = np.ones(targets), np.full(len(d), targets / len(d))
    k = sigma2 * lam * corner @ h
    made = g @ c + k @ W @ (d - X @ c)
    a = g - X.T @ W @ k
    variance = sigma2 * lam * h @ h - k @ W @ k + a @ N @ a
    return made, variance, g @ c, g @ N @ g, V, X, d


def toeplitz(n):
    return 2 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1)


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    targets=st.integers(1, 6),
    pieces=st.lists(st.integers(1, 25), min_size=1, max_size=4),
    sigma=st.floats(1e-5, 0.1),
    lam=st.floats(1e-6, 50.0),
    unseen=st.sampled_from([0.0, 0.02, 0.2]),
)
def test_prediction_and_variance_are_those_of_dense_least_squares(seed, targets, pieces, sigma, lam, unseen):
    rng = np.random.default_rng(seed)
    gaps = rng.uniform(1.0, 4.0, targets)
    many = [series(rng, t, targets, sigma * np.sqrt(lam), sigma, gaps)[0] for t in pieces]
    if sum(pieces) < 2:
        return
    found = drift(spectrum(many, targets), fixed(lam, sigma**2, unseen), targets)
    made, variance, r, _, *_ = dense(many, targets, lam, sigma**2, unseen)
    assert found.made.value == pytest.approx(made, abs=1e-9)
    if unseen == 0.0:
        assert made == pytest.approx(r, abs=1e-9)  # best prediction and drift are one, as the module's head says
    # what rounding of a difference of two variances leaves: 1e-12 of the larger
    q2_part = sigma**2 * lam * targets / sum(pieces)
    assert found.made.u**2 == pytest.approx(variance, rel=2 * U_REL, abs=1e-11 * q2_part)


@pytest.mark.parametrize("n", [2, 3, 10, 77, 400])
def test_without_slip_the_variance_is_the_closed_form(n):
    # CHECKS of the slope's bound: var = 12 σ² / (N (N+1) (N+2)) for N+1 equally spaced points (Rife and Boorstyn 1974,
    # from memory; it follows from Σ(x − x̄)²)
    sigma = 0.003
    found = drift(spectrum([Steps(np.full(n, 6.2), np.zeros(n, int))], 1), fixed(0.0, sigma**2), 1)
    assert found.made.u**2 == pytest.approx(12 * sigma**2 / (n * (n + 1) * (n + 2)), rel=1e-7)
    x = np.arange(n + 1.0)
    assert found.made.u**2 == pytest.approx(sigma**2 / ((x - x.mean()) ** 2).sum(), rel=1e-7)
    assert found.made.value == pytest.approx(6.2, abs=1e-12)


def test_without_slip_it_is_the_straight_line_through_the_passages():
    rng = np.random.default_rng(1)
    y = 7.7 * np.arange(61) + 0.01 * rng.standard_normal(61)
    found = drift(spectrum([Steps(np.diff(y), np.zeros(60, int))], 1), fixed(0.0, 1e-4), 1)
    assert found.made.value == pytest.approx(np.polyfit(np.arange(61), y, 1)[0], abs=1e-11)


def test_without_timing_noise_it_is_the_count_end_to_end_and_sure():
    rng = np.random.default_rng(2)
    d = 7.7 + 0.05 * rng.standard_normal(60)
    found = drift(spectrum([Steps(d, np.zeros(60, int))], 1), fixed(1e9, 1e-15), 1)
    assert found.made.value == pytest.approx(d.mean(), abs=1e-9)
    assert found.made.u < 1e-7


@pytest.mark.parametrize("n", [1, 2, 3, 4, 7, 64, 501, 9_999, 30_000])
def test_the_transform_is_scipys(n):
    x = np.random.default_rng(n).standard_normal(n)
    one = {"type": 1, "norm": "ortho"}
    np.testing.assert_allclose(step_spectrum._sine_transform(x), dst(x, **one), rtol=0, atol=1e-12)
    np.testing.assert_allclose(step_spectrum._sine_transform(x + 8.37, 8.37), dst(x, **one), rtol=0, atol=1e-12)
    np.testing.assert_allclose(step_spectrum._constant(n), dst(np.ones(n), **one), rtol=0, atol=1e-12)


@pytest.mark.parametrize(("n", "targets"), [(6_001, 1), (20_000, 1), (9_000, 4)])
def test_a_spectrum_is_what_scipys_transform_makes_of_the_steps(n, targets):
    rng = np.random.default_rng(n)
    level = np.cumsum(2e-3 * rng.standard_normal(n))  # wanders: most of it in the lowest coefficients
    s = Steps(8.37 / targets + level + 1e-3 * rng.standard_normal(n), (np.arange(n) + 1) % targets)
    found = spectrum([s], targets)
    columns = [(s.target == j).astype(float) for j in range(targets)] + [s.d - found.level]
    z = np.array([dst(x, type=1, norm="ortho") for x in columns])
    mu = 4 * np.sin(0.5 * np.pi * np.arange(1, n + 1) / (n + 1)) ** 2
    ends = np.append(0, np.cumsum(found.rows)).astype(int)
    assert ends[-1] == n
    for i, (a, b) in enumerate(pairwise(ends)):
        assert found.mu[i] == pytest.approx(mu[a:b].mean(), rel=1e-9)
        np.testing.assert_allclose(found.cross[i], z[:, a:b] @ z[:, a:b].T, rtol=1e-9, atol=1e-10 * n)
    assert np.diff(np.floor(250 * np.log(mu[ends[:-1]]))).min() >= 1  # each has its own place on the scale of ln μ


def test_order_of_the_pieces_does_not_matter():
    rng = np.random.default_rng(3)
    many = [series(rng, t, 2, 0.01, 0.003, np.array([3.1, 3.3]))[0] for t in (20, 7, 13)]
    one, other = (drift(spectrum(m, 2), fixed(5.0, 1e-5), 2) for m in (many, many[::-1]))
    assert one.made.value == pytest.approx(other.made.value, abs=1e-12)
    assert one.made.u == pytest.approx(other.made.u, rel=1e-9)


def prior(
    least=1e-14,
    ordinary=1e-5,
    ordinary_width=1.0,
    shown_least=0.0,
    shown_most=1e-2,
    shown_width=0.1,
    slip_shown=0.05,
    unseen=0.02,
):
    return TimingPrior(least, ordinary, ordinary_width, shown_least, shown_most, shown_width, slip_shown, unseen)


PRIOR = prior()


def test_a_merged_spectrum_says_the_same(monkeypatch):
    rng = np.random.default_rng(4)
    many = [series(rng, t, 1, 0.01, 0.003, np.array([6.2]))[0] for t in (5000, 4000)]
    merged = spectrum(many, 1)
    monkeypatch.setattr(step_spectrum, "_MERGE_ABOVE", 10**9)
    whole = spectrum(many, 1)
    assert len(merged.mu) < 0.5 * len(whole.mu)
    assert merged.rows.sum() == len(whole.mu) == merged.steps == whole.steps
    a, b = (drift(data, noise_mix(data, PRIOR), 1) for data in (merged, whole))
    assert abs(a.made.value - b.made.value) < 0.01 * b.made.u
    assert a.made.u == pytest.approx(b.made.u, rel=0.01)
    assert a.expected.u == pytest.approx(b.expected.u, rel=0.01)


def test_the_likelihood_is_the_dense_restricted_one():
    rng = np.random.default_rng(5)
    many = [series(rng, t, 2, 0.004, 0.003, np.array([3.1, 3.3]))[0] for t in (12, 9)]
    data = spectrum(many, 2)

    def dense_reml(lam, sigma2):
        *_, V, X, d = dense(many, 2, lam, sigma2)
        W = np.linalg.inv(V)
        normal = X.T @ W @ X
        P = W - W @ X @ np.linalg.inv(normal) @ X.T @ W
        return -0.5 * (np.linalg.slogdet(V)[1] + np.linalg.slogdet(normal)[1] + d @ P @ d)

    # With a prior that says nothing, a candidate's weight is its likelihood: that at its own best σ² but for a factor
    # that is the same for all (σ² integrates to the same function of itself over its best).
    nothing = prior(least=1e-30, ordinary_width=1e9, shown_most=1e30, slip_shown=0.0, unseen=0.0)
    mix = noise_mix(data, nothing)
    seen = np.flatnonzero((mix.weight > 1e-4 * mix.weight.max()) & (mix.kept == 0.0))
    walking, smooth = np.split(seen, 2)  # alike here, where no flyer pulse tells them apart: half as likely beforehand
    np.testing.assert_allclose(mix.weight[smooth] / mix.weight[walking], 0.5, rtol=1e-6)
    seen = walking
    theirs = np.array([dense_reml(*pair) for pair in zip(mix.lam[seen], mix.sigma2[seen], strict=True)])
    ours = np.log(mix.weight[seen])
    assert len(seen) > 8
    np.testing.assert_allclose(ours - ours[0], theirs - theirs[0], atol=1e-6)


def test_statsmodels_local_level_with_drift_agrees():
    # y_n = x_n + e_n, x_{n+1} = x_n + r + ξ_n is statsmodels' "local linear deterministic trend"; with an exact diffuse
    # start its likelihood is the restricted one of the steps.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of statsmodels and pandas themselves
        from statsmodels.tsa.statespace.structural import UnobservedComponents
    rng = np.random.default_rng(6)
    (s, _), noise = series(rng, 80, 1, 0.02, 0.01, np.array([6.2])), [(1e-4, 4e-4), (3e-4, 1e-5), (1e-4, 2e-3)]
    y = np.concatenate(([0.0], np.cumsum(s.d)))
    model = UnobservedComponents(y, "lldtrend", use_exact_diffuse=True)
    data = spectrum([s], 1)

    def ours(sigma2, q2):
        g = q2 / sigma2 + data.mu
        sums = np.tensordot(1 / g, data.cross, axes=1)
        rss = sums[1, 1] - sums[0, 1] ** 2 / sums[0, 0]
        return -0.5 * (np.log(g).sum() + np.log(sums[0, 0]) + data.dof * np.log(sigma2) + rss / sigma2)

    theirs = []
    for sigma2, q2 in noise:
        smoothed = model.smooth([sigma2, q2])
        theirs.append(smoothed.llf)
        slope = smoothed.smoothed_state[1, 0]
        found = drift(data, fixed(q2 / sigma2, sigma2), 1)
        assert found.made.value == pytest.approx(slope, abs=1e-7)
        drift_u2 = found.made.u**2 + q2 / 80  # the drift behind the run adds the run's own slip
        assert drift_u2 == pytest.approx(smoothed.smoothed_state_cov[1, 1, 0], rel=1e-5)
    mine = np.array([ours(*pair) for pair in noise])
    np.testing.assert_allclose(mine - mine[0], np.array(theirs) - theirs[0], atol=1e-6)


def covered(rng, n, q, sigma, prior, times):
    hits = 0
    for _ in range(times):
        s, level = series(rng, n, 1, q, sigma, np.array([6.2]))
        data = spectrum([s], 1)
        made = drift(data, noise_mix(data, prior), 1).made
        hits += made.low <= level.mean() <= made.high
    return hits


PRIOR_OF_A_SENSOR = prior(least=1e-12, ordinary=1.8e-5, shown_most=1.0, slip_shown=0.0, unseen=0.0)


@pytest.mark.parametrize(("q", "sigma"), [(0.0, 0.003), (0.003, 0.003)])
def test_intervals_cover_what_the_model_makes(q, sigma):
    # 150 draws of a true 95 %: 132 or fewer once in 2000, all 150 once in 2200 (binomial)
    assert 132 < covered(np.random.default_rng(7), 70, q, sigma, PRIOR_OF_A_SENSOR, 150) < 150


@pytest.mark.parametrize("sigma", [0.003, 0.0005])
def test_where_slip_hides_the_timing_the_interval_is_wide_not_wrong(sigma):
    # Ten times more slip than timing noise: σ shows in no step, so the interval allows for all that the sensor may do.
    # Measured: 150 of 150 for both, with half widths of about 1e-4 of the ratio: a timing error as large as the slip
    # that lingers from turn to turn is seldom, but not impossible.
    rng = np.random.default_rng(7)
    assert covered(rng, 70, 0.03, sigma, PRIOR_OF_A_SENSOR, 150) > 132
    (s, _) = series(rng, 70, 1, 0.03, sigma, np.array([6.2]))
    data = spectrum([s], 1)
    made = drift(data, noise_mix(data, PRIOR_OF_A_SENSOR), 1).made
    assert made.half_width < 2e-4 * made.value


def test_what_cannot_be_said_is_none():
    assert spectrum([], 1) is None
    assert spectrum([Steps(np.empty(0), np.empty(0, int))], 1) is None
    assert spectrum([Steps(np.ones(3), np.zeros(3, int))], 2) is None  # target 1 was never left


def test_a_corner_cut_between_flyer_pulses_is_no_timing_noise():
    """Exact stamps, much slip, few flyer pulses: the count end to end is best, and its ends are unsure."""
    rng = np.random.default_rng(8)
    pulses, n, q = 3, 60, 0.05
    errors, said = [], []
    for _ in range(300):
        fine = np.cumsum(q / np.sqrt(40 * pulses) * rng.standard_normal(40 * pulses * (n + 4)))
        knots = np.arange(0, len(fine), 40)
        at = 40 * pulses + int(rng.integers(120)) + 120 * np.arange(n + 1)
        y = np.interp(at, knots, fine[knots]) + 6.2 * np.arange(n + 1)
        mix = fixed(1e6, q * q * 1e-6, 1 / (6 * pulses))
        made = drift(spectrum([Steps(np.diff(y), np.zeros(n, int))], 1), mix, 1).made
        assert made.value == pytest.approx((y[-1] - y[0]) / n, abs=1e-5)
        errors.append(made.value - 6.2 - (fine[at[-1]] - fine[at[0]]) / n)
        said.append(made.u)
    # 300 errors tell their deviation to 4 % (one of its deviations)
    assert np.std(errors) == pytest.approx(np.mean(said), rel=0.15)
    assert np.mean(said) == pytest.approx(q * np.sqrt(2 / (6 * pulses)) / n, rel=0.01)


def test_the_prior_prefers_the_likely_and_forbids_the_impossible():
    zero, walks = np.array(0.0), np.array(1.0)
    weights = [PRIOR.log_weight(np.array(s2), zero, zero, walks) for s2 in (1e-5, 1e-3, 1e-7)]
    assert weights[0] == max(weights) == 0.0
    # a decade in σ is two in σ²: one width each way
    assert weights[1] == pytest.approx(-0.5)
    assert weights[2] == pytest.approx(-0.5)
    assert PRIOR.log_weight(np.array(1.0), zero, zero, walks) < -30
    # of what the flyer scatters by, slip may be a part
    shown = prior(shown_least=1e-5, shown_most=1e-5)
    alone, with_slip = (float(shown.log_weight(np.array(1e-6), np.array(lam), zero, walks)) for lam in (0.0, 180.0))
    assert alone < with_slip - 5.0
    # but slip that is smooth between two pulses has no part in it
    assert float(shown.log_weight(np.array(1e-6), np.array(180.0), zero, zero)) == pytest.approx(alone)
