"""A product of beliefs is the belief of the product, and a trend is a weak belief that values overrule."""

import numpy as np
import pytest

from optimiser.space import Block
from optimiser.surrogate import Effort, Fitted, Prior, Product, Trend, fit, kernel_of, mixture, product
from optimiser.surrogate.days import days_of
from optimiser.surrogate.likelihood import Likelihood, Observations
from optimiser.surrogate.triangular import Array

KERNEL = kernel_of((Block("gain", "knob", (0,), 0), Block("tone", "knob", (1,), 0)))
RNG = np.random.default_rng(4)
ROWS = RNG.uniform(size=(18, 2))
WANTED = RNG.uniform(size=(7, 2))


def logs_of(rows: Array, falls: bool) -> Array:
    return -1.5 * rows[:, 0] ** 2 if falls else -2.0 * (rows[:, 0] - 0.8) ** 2 - 0.3 * rows[:, 1]


def factor(falls: bool, rows: Array = ROWS) -> Fitted:
    return fit(KERNEL, rows, logs_of(rows, falls), np.full(len(rows), 0.01), effort=Effort(members=2))


def both(rows: Array = ROWS) -> Product:
    return product([factor(True, rows), factor(False, rows)], [0.4, 0.6], 100.0)


def test_one_factor_of_power_one_is_its_own_logarithm() -> None:
    alone = factor(True)
    value, variance = product([alone], [1.0], 100.0).predict(WANTED)
    log, doubt = alone.predict(WANTED)
    np.testing.assert_allclose(value, 100.0 * np.exp(log))
    np.testing.assert_allclose(variance, value**2 * doubt)


def test_its_mean_is_the_product_and_joint_agrees_with_predict() -> None:
    belief = both()
    means, variances = belief.predict(WANTED)
    for index, member in enumerate(belief.members):
        mean, covariance = belief.joint(WANTED, member)
        np.testing.assert_allclose(mean, means[index])
        np.testing.assert_allclose(np.diag(covariance), variances[index], rtol=1e-6)
    truth = 100.0 * np.exp(0.4 * logs_of(WANTED, True) + 0.6 * logs_of(WANTED, False))
    np.testing.assert_allclose(mixture(means, variances)[0], truth, rtol=0.05)


def test_it_is_nearer_a_ridge_between_a_fall_and_a_rise_than_one_belief() -> None:
    ends = np.array([[0.0, 0.5], [0.1, 0.2], [0.2, 0.8], [0.9, 0.4], [1.0, 0.6], [0.85, 0.1]])
    middle = np.array([[0.5, 0.4]])
    truth = 100.0 * np.exp(0.4 * logs_of(middle, True) + 0.6 * logs_of(middle, False))[0]
    by_parts = mixture(*both(ends).predict(middle))[0][0]
    values = 100.0 * np.exp(0.4 * logs_of(ends, True) + 0.6 * logs_of(ends, False))
    as_one = mixture(*fit(KERNEL, ends, values, np.full(6, 0.5)).predict(middle))[0][0]
    assert abs(by_parts - truth) < abs(as_one - truth)


def test_believing_keeps_the_mean_and_takes_doubt_away() -> None:
    belief = both()
    later = belief.believing(WANTED[:2])
    before, after = belief.predict(WANTED), later.predict(WANTED)
    np.testing.assert_allclose(after[0], before[0], rtol=1e-6)
    assert np.all(after[1][:, :2] < before[1][:, :2] + 1e-9)


def test_its_scale_and_noise_are_those_of_the_values() -> None:
    seen = 100.0 * np.exp(0.4 * logs_of(ROWS, True) + 0.6 * logs_of(ROWS, False))
    belief = both()
    assert belief.scale == pytest.approx(np.std(seen), rel=1e-6)
    alone = product([factor(True)], [1.0], 100.0)
    level = 100.0 * np.exp(np.median(logs_of(ROWS, True)))
    assert alone.noise() == pytest.approx(level * factor(True).noise(), rel=0.01)


def first_column(rows: Array) -> Array:
    return rows[:, :1]


def test_before_many_values_a_trend_is_followed_and_later_it_is_overruled() -> None:
    trend = Trend(first_column, (Prior(-3.0, 1.0),))
    one = np.array([[0.5, 0.5]])
    ends = np.array([[0.0, 0.5], [1.0, 0.5]])
    few = fit(KERNEL, one, np.array([1.0]), np.array([0.01]), trend=trend)
    low, high = mixture(*few.predict(ends))[0]
    assert low - high > 0.1
    plain = fit(KERNEL, one, np.array([1.0]), np.array([0.01]))
    assert np.ptp(mixture(*plain.predict(ends))[0]) == pytest.approx(0.0, abs=1e-9)
    rising = fit(KERNEL, ROWS, 3.0 * ROWS[:, 0], np.full(len(ROWS), 0.01), trend=trend)
    np.testing.assert_allclose(mixture(*rising.predict(ends))[0], [0.0, 3.0], atol=0.3)


def test_the_density_has_the_gradient_it_says_with_a_trend() -> None:
    observations = Observations(
        ROWS, logs_of(ROWS, True), np.full(18, 0.01), np.full(18, 0.02), days_of(ROWS, np.arange(18) % 2)
    )
    likelihood = Likelihood(KERNEL, observations, Trend(first_column, (Prior(-1.0, 0.5),)))
    point = 0.3 * np.random.default_rng(1).normal(size=len(likelihood.priors))
    _, gradient = likelihood.log_density(point)
    for place in range(len(point)):
        step = np.zeros(len(point))
        step[place] = 1e-5
        slope = (likelihood.log_density(point + step)[0] - likelihood.log_density(point - step)[0]) / 2e-5
        assert gradient[place] == pytest.approx(slope, rel=1e-4, abs=1e-5)
