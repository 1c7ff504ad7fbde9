"""Conditioning agrees with closed forms, with another library and with itself left one out."""

import numpy as np
import pytest
from sklearn.gaussian_process import GaussianProcessRegressor  # type: ignore[import-untyped]
from sklearn.gaussian_process.kernels import Matern as OtherMatern  # type: ignore[import-untyped]

from optimiser.surrogate.gaussian_process import condition, draw
from optimiser.surrogate.kernels import Matern, evaluate
from optimiser.surrogate.priors import Prior
from optimiser.surrogate.triangular import Array


def _rbf(left: list[float], right: list[float]) -> Array:
    return np.asarray(np.exp(-0.5 * (np.array(left)[:, None] - np.array(right)) ** 2))


def test_two_points_in_closed_form() -> None:
    """Rasmussen and Williams 2006, algorithm 2.1: scale 1, X = {0, 1}, y = {0, 1}, noise variance 0.1."""
    conditioned = condition(_rbf([0, 1], [0, 1]), np.full(2, 0.1), np.array([0.0, 1.0]))
    cross = _rbf([0, 1], [0.5, 2.0])
    np.testing.assert_allclose(conditioned.mean(cross), [0.517129, 0.694792], atol=1e-6)
    np.testing.assert_allclose(conditioned.variance(cross, 1.0), [0.087270, 0.613784], atol=1e-6)
    assert conditioned.log_evidence == pytest.approx(-2.405074, abs=1e-6)


def test_repeats_count_as_one_better_reading() -> None:
    """Four readings of mean 1, noise variance 0.25, prior variance 1: mean 16/17, variance 1/17; closed form."""
    ones = np.ones((4, 4))
    four = condition(ones, np.full(4, 0.25), np.array([0.5, 1.5, 0.8, 1.2]))
    one = condition(np.ones((1, 1)), np.array([0.0625]), np.ones(1))
    for conditioned, size in ((four, 4), (one, 1)):
        assert conditioned.mean(np.ones((size, 1)))[0] == pytest.approx(16 / 17)
        assert conditioned.variance(np.ones((size, 1)), 1.0)[0] == pytest.approx(1 / 17)


def test_sister_task() -> None:
    """One exact reading of 1 at correlation 0.8: mean 0.8, variance 0.36; closed form."""
    conditioned = condition(np.ones((1, 1)), np.zeros(1), np.ones(1))
    assert conditioned.mean(np.array([[0.8]]))[0] == pytest.approx(0.8)
    assert conditioned.variance(np.array([[0.8]]), 1.0)[0] == pytest.approx(0.36)


def test_agrees_with_another_library() -> None:
    """Against scikit-learn's GaussianProcessRegressor with its own Matern-5/2."""
    rng = np.random.default_rng(0)
    rows, values, wanted = rng.uniform(size=(60, 2)), rng.normal(size=60), rng.uniform(size=(15, 2))
    kernel, hyper = Matern((0, 1), Prior(0.0, 1.0)), np.log([0.3, 0.7])
    conditioned = condition(evaluate(kernel, rows, rows, hyper), np.full(60, 0.2), values)
    cross = evaluate(kernel, rows, wanted, hyper)
    other = GaussianProcessRegressor(OtherMatern([0.3, 0.7], nu=2.5), alpha=0.2, optimizer=None).fit(rows, values)
    mean, covariance = other.predict(wanted, return_cov=True)
    np.testing.assert_allclose(conditioned.mean(cross), mean, atol=1e-9)
    np.testing.assert_allclose(
        conditioned.covariance(cross, evaluate(kernel, wanted, wanted, hyper)), covariance, atol=1e-9
    )
    np.testing.assert_allclose(conditioned.variance(cross, 1.0), np.diag(covariance), atol=1e-9)
    assert conditioned.log_evidence == pytest.approx(other.log_marginal_likelihood_value_, abs=1e-8)


def test_leaving_one_out_is_what_it_says() -> None:
    """The shortcut agrees with really leaving each value out."""
    rng = np.random.default_rng(1)
    places, values = rng.uniform(0, 4, size=8).tolist(), rng.normal(size=8)
    residuals, variances = condition(_rbf(places, places), np.full(8, 0.1), values).leave_one_out()
    for left_out in range(8):
        rest = [place for index, place in enumerate(places) if index != left_out]
        others = condition(_rbf(rest, rest), np.full(7, 0.1), np.delete(values, left_out))
        cross = _rbf(rest, [places[left_out]])
        assert residuals[left_out] == pytest.approx(values[left_out] - others.mean(cross)[0])
        assert variances[left_out] == pytest.approx(others.variance(cross, 1.0)[0] + 0.1)


def test_draws_have_the_moments_asked_for() -> None:
    """Sample moments of 20000 draws lie within five standard errors."""
    mean, covariance = np.array([1.0, -2.0]), np.array([[2.0, 1.2], [1.2, 1.0]])
    draws = draw(mean, covariance, np.random.default_rng(2).normal(size=(20000, 2)))
    np.testing.assert_allclose(draws.mean(axis=0), mean, atol=5 * np.sqrt(2.0 / 20000))
    np.testing.assert_allclose(np.cov(draws.T), covariance, atol=5 * 2.0 * np.sqrt(2.0 / 20000))


def test_draws_from_a_singular_covariance_stay_together() -> None:
    draws = draw(np.zeros(3), np.ones((3, 3)), np.random.default_rng(3).normal(size=(50, 3)))
    np.testing.assert_allclose(draws[:, 0], draws[:, 2], atol=1e-3)
