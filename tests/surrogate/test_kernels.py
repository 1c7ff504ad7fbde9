"""Every correlation is what its formula says, positive definite, and has the gradient it claims."""

import math
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import kendalltau

from optimiser.surrogate.alternatives import Alike, Described, Existing
from optimiser.surrogate.kernels import Correlation, Matern, Shifted, Steps, evaluate, matern52
from optimiser.surrogate.mixed_kernel import MixedKernel, Term
from optimiser.surrogate.orders import Mallows
from optimiser.surrogate.priors import Prior
from optimiser.surrogate.triangular import Array

STANDARD = Prior(0.0, 1.0)
CORRELATIONS: list[Correlation] = [
    Matern((0, 1), STANDARD),
    Steps(2, 4, STANDARD),
    Alike((3,), STANDARD),
    Shifted(0, 2, 4, STANDARD, STANDARD),
    Described(3, Matern((0, 1), STANDARD), STANDARD),
    Mallows((4, 5, 6, 7), STANDARD, STANDARD),
    Existing(Matern((0,), STANDARD), 8, 0.5),
]
ORDERS = np.array(list(permutations(range(4))), dtype=float)


def _rows(count: int, seed: int) -> Array:
    rng = np.random.default_rng(seed)
    rows = np.zeros((count, 9))
    rows[:, :2] = rng.uniform(size=(count, 2))
    rows[:, 2] = rng.integers(4, size=count)
    rows[:, 3] = rng.integers(3, size=count)
    rows[:, 4:8] = [rng.permutation(4) for _ in range(count)]
    rows[:, 8] = rng.integers(2, size=count)
    return rows


def _mixed() -> MixedKernel:
    terms = [Term((b,), STANDARD) for b in range(7)]
    return MixedKernel(tuple(CORRELATIONS), (*terms, Term((0, 1), STANDARD), Term(tuple(range(7)), STANDARD)))


def test_matern_at_one_scale() -> None:
    """Closed form after Rasmussen and Williams 2006, equation 4.17."""
    assert matern52(np.array([1.0]))[0][0] == pytest.approx(0.5239941088, abs=1e-10)


def test_mallows_over_four_riffs() -> None:
    """Closed forms for exp(-d / 2): Jiao and Vert 2015, Deshwal et al. 2022."""
    hyper = np.array([math.log(0.5), *[0.0] * 6])
    kernel = evaluate(Mallows((0, 1, 2, 3), STANDARD, STANDARD), ORDERS, ORDERS, hyper)
    distances, counts = np.unique(np.round(-2.0 * np.log(kernel[0])), return_counts=True)
    assert distances.tolist() == [0, 1, 2, 3, 4, 5, 6]
    assert counts.tolist() == [1, 3, 5, 6, 5, 3, 1]
    assert kernel.min() == pytest.approx(0.049787, abs=1e-6)
    assert np.linalg.eigvalsh(kernel).min() == pytest.approx(0.126801, abs=1e-6)


def test_mallows_counts_as_kendall_does() -> None:
    """Against scipy.stats.kendalltau: d = pairs x (1 - tau) / 2."""
    hyper = np.zeros(7)
    kernel = evaluate(Mallows((0, 1, 2, 3), STANDARD, STANDARD), ORDERS[:1], ORDERS, hyper)[0]
    expected = [6 * (1 - kendalltau(ORDERS[0], order).statistic) / 2 for order in ORDERS]
    np.testing.assert_allclose(-np.log(kernel), expected, atol=1e-12)


def test_riffs_not_played_are_tied() -> None:
    """Two riffs that one order leaves out and the other plays differ by half a pair."""
    both_out = np.array([[0.0, 1.0, 2.0, 2.0]])
    one_played = np.array([[0.0, 1.0, 2.0, 3.0]])
    kernel = evaluate(Mallows((0, 1, 2, 3), STANDARD, STANDARD), both_out, one_played, np.zeros(7))
    assert kernel[0, 0] == pytest.approx(math.exp(-0.5))


def test_steps_may_be_unevenly_apart() -> None:
    rows = np.array([[0.0], [1.0], [2.0]])
    near, far = math.log(10.0), math.log(0.5)
    kernel = evaluate(Steps(0, 3, STANDARD), rows, rows, np.array([near, far]))
    assert kernel[0, 1] == pytest.approx(matern52(np.array([0.1**2]))[0][0])
    assert kernel[1, 2] == pytest.approx(matern52(np.array([2.0**2]))[0][0])
    assert kernel[0, 2] == pytest.approx(matern52(np.array([2.1**2]))[0][0])


def test_a_curve_may_move_with_the_stage() -> None:
    """One step up and 0.3 lower on the knob is the same place on the curve when the step moves it by 0.3."""
    rows = np.array([[0.7, 0.0], [0.4, 1.0], [0.4, 0.0]])
    kernel = evaluate(Shifted(0, 1, 2, STANDARD, STANDARD), rows, rows, np.array([0.0, 0.3]))
    assert kernel[0, 1] == pytest.approx(1.0)
    assert kernel[0, 2] == pytest.approx(matern52(np.array([0.09]))[0][0])


def test_alternatives_share_what_is_learnt() -> None:
    """Intrinsic coregionalisation, closed form: correlation 0.8."""
    rows = np.array([[0.0], [1.0]])
    kernel = evaluate(Alike((0,), STANDARD), rows, rows, np.array([math.log(0.8 / 0.2)]))
    np.testing.assert_allclose(kernel, [[1.0, 0.8], [0.8, 1.0]])


def test_a_new_place_borrows_from_its_neighbours() -> None:
    """A place that is no saved spot is like a spot near it, and the same place twice is the same."""
    spot, here, away = [0.0, 0.5, 0.5], [-1.0, 0.52, 0.5], [-1.0, 0.9, 0.1]
    rows = np.array([spot, here, here, away])
    kernel = evaluate(Described(0, Matern((1, 2), STANDARD), STANDARD), rows, rows, np.array([-1.0, -1.0, -1.0]))
    assert kernel[1, 2] == 1.0
    assert 1.0 > kernel[0, 1] > kernel[0, 3] > 0.0


def test_a_setting_that_does_not_exist_does_not_matter() -> None:
    kernel = Existing(Matern((0,), STANDARD), 1, 0.5)
    without = np.array([[0.1, 0.0], [0.9, 0.0]])
    np.testing.assert_allclose(evaluate(kernel, without, without, np.zeros(1)), 1.0)


@pytest.mark.parametrize("correlation", CORRELATIONS, ids=lambda kernel: type(kernel).__name__)
@given(seed=st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_correlations_are_symmetric_one_and_positive_definite(correlation: Correlation, seed: int) -> None:
    rows = _rows(12, seed)
    hyper = np.random.default_rng(seed).normal(size=len(correlation.priors))
    kernel = evaluate(correlation, rows, rows, hyper)
    np.testing.assert_array_equal(kernel, kernel.T)
    np.testing.assert_allclose(np.diag(kernel), 1.0)
    assert np.linalg.eigvalsh(kernel).min() > -1e-9


@given(seed=st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_gradients_agree_with_finite_differences(seed: int) -> None:
    kernel, rows = _mixed(), _rows(7, seed)
    rng = np.random.default_rng(seed)
    hyper, upstream = rng.normal(size=len(kernel.priors)), rng.normal(size=(7, 7))
    comparison = kernel.compare(rows, rows)
    gradient = kernel.covary(comparison, hyper)[1](upstream)

    def total(point: Array) -> float:
        return float((upstream * kernel.covary(comparison, point)[0]).sum())

    step = 1e-6
    numeric = [(total(hyper + step * unit) - total(hyper - step * unit)) / (2 * step) for unit in np.eye(len(hyper))]
    np.testing.assert_allclose(gradient, numeric, atol=2e-6 * max(1.0, np.abs(numeric).max()))


def test_variance_of_the_mixture_is_the_sum_of_its_weights() -> None:
    kernel, rows = _mixed(), _rows(5, 3)
    hyper = np.random.default_rng(1).normal(size=len(kernel.priors))
    covariance = kernel.covary(kernel.compare(rows, rows), hyper)[0]
    np.testing.assert_allclose(np.diag(covariance), kernel.variance(hyper))


@pytest.mark.parametrize(("mean", "sd"), [(0.0, 0.0), (math.nan, 1.0), (0.0, math.inf)])
def test_priors_refuse_what_is_no_distribution(mean: float, sd: float) -> None:
    with pytest.raises(ValueError, match="prior"):
        Prior(mean, sd)
