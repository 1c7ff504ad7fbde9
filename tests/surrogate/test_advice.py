"""A belief that starts from an earlier one is the belief about both tasks at once, and costs no detour."""

from dataclasses import replace

import numpy as np
import pytest

from optimiser.space import Block
from optimiser.surrogate import (
    FLAT,
    Advice,
    Covariance,
    Effort,
    Fitted,
    Prior,
    Trend,
    advised,
    fit,
    kernel_of,
    weights_of,
)
from optimiser.surrogate.fitting import Member
from optimiser.surrogate.likelihood import CONSTANT_VARIANCE, NOISE_FLOOR, Likelihood, Observations
from optimiser.surrogate.triangular import Array

BLOCKS = (Block("gain", "knob", (0,), 0), Block("stage", "stage", (1,), 3))


def _rows(count: int, seed: int) -> Array:
    rng = np.random.default_rng(seed)
    return np.column_stack([rng.uniform(size=count), rng.integers(3, size=count)])


def _values(rows: Array, noise: float = 0.05, seed: int = 0) -> Array:
    wave = np.sin(5.0 * rows[:, 0]) + 0.4 * rows[:, 1]
    return np.asarray(wave + noise * np.random.default_rng(seed).normal(size=len(rows)))


def _fitted(count: int = 14, seed: int = 1, members: int = 2) -> Fitted:
    rows = _rows(count, seed)
    return fit(kernel_of(BLOCKS), rows, _values(rows), np.zeros(count), effort=Effort(members=members))


def _observations(count: int, seed: int) -> Observations:
    rows = _rows(count, seed)
    nothing = np.zeros(count)
    return Observations(rows, _values(rows, 0.2, seed), nothing, nothing, None)


def _prior(fitted: Fitted, left: Array, right: Array, member: Member) -> Array:
    return fitted.prior_covariance(left, right, member)


def test_it_equals_the_belief_about_both_tasks_at_once() -> None:
    """Brute force: one normal distribution over all values of f = slope g + d and of g, conditioned in one go.

    The covariance between tasks is that of [Swersky2013]; formulas of conditioning from [Rasmussen2006] section 2.2.
    """
    old = _fitted(members=1)
    member = old.members[0]
    kernel, trend = advised(kernel_of(BLOCKS), FLAT, [Advice("old", old)])
    seen, wanted = _observations(7, 2), _rows(5, 3)
    likelihood = Likelihood(kernel, seen, trend)
    hyper = likelihood.hyper(0.3 * np.random.default_rng(4).normal(size=len(likelihood.priors)))
    size = len(kernel.priors)
    slope, own, noise = np.exp(hyper[size - 1]), np.exp(hyper[size - 2]), np.exp(hyper[size]) + NOISE_FLOOR
    inner = kernel_of(BLOCKS)

    def d(left: Array, right: Array) -> Array:
        return np.asarray(own * inner.covary(inner.compare(left, right), hyper[: size - 2])[0] + CONSTANT_VARIANCE)

    def f(left: Array, right: Array) -> Array:
        return np.asarray(slope**2 * _prior(old, left, right, member) + d(left, right))

    before = old.observations.rows
    old_noise = np.exp(member.hyper[len(old.kernel.priors)]) + NOISE_FLOOR
    values = np.concatenate([old.observations.values, seen.values])
    cross = slope * _prior(old, before, seen.rows, member)
    joint = np.block(
        [
            [_prior(old, before, before, member) + old_noise * np.eye(len(before)), cross],
            [cross.T, f(seen.rows, seen.rows) + noise * np.eye(len(seen.rows))],
        ]
    )
    to_wanted = np.vstack([slope * _prior(old, before, wanted, member), f(seen.rows, wanted)])
    mean = to_wanted.T @ np.linalg.solve(joint, values)
    covariance = f(wanted, wanted) - to_wanted.T @ np.linalg.solve(joint, to_wanted)

    conditioned = likelihood.condition(hyper)
    belief = Fitted(kernel, seen, 0.0, 1.0, (Member(hyper, float(noise), conditioned),), trend)
    np.testing.assert_allclose(belief.predict(wanted)[0][0], mean, atol=1e-8)
    np.testing.assert_allclose(belief.predict(wanted)[1][0], np.diag(covariance), atol=1e-8)
    np.testing.assert_allclose(belief.joint(wanted, belief.members[0])[1], covariance, atol=1e-8)


def test_gradient_of_the_density_agrees_with_finite_differences() -> None:
    sloped = Trend(lambda rows: rows[:, :1], (Prior(0.3, 0.5),))
    kernel, trend = advised(kernel_of(BLOCKS), sloped, [Advice("a", _fitted(seed=1)), Advice("b", _fitted(seed=2))])
    likelihood = Likelihood(kernel, _observations(9, 5), trend)
    point = 0.5 * np.random.default_rng(3).normal(size=len(likelihood.priors))
    step = 1e-5
    numeric = [
        (likelihood.log_density(point + step * unit)[0] - likelihood.log_density(point - step * unit)[0]) / (2 * step)
        for unit in np.eye(len(point))
    ]
    np.testing.assert_allclose(likelihood.log_density(point)[1], numeric, atol=1e-5)


def test_an_advice_is_the_mixture_of_its_members() -> None:
    """Law of total variance, against many joint draws of the members' own posteriors."""
    old, rows = _fitted(members=3), _rows(6, 8)
    advice = Advice("old", old)
    means, variances = old.predict(rows)
    standard = (means - old.centre) / old.scale
    np.testing.assert_allclose(advice.mean(rows), standard.mean(axis=0), atol=1e-9)
    expected = variances.mean(axis=0) / old.scale**2 + standard.var(axis=0)
    np.testing.assert_allclose(advice.variance(rows), expected, atol=1e-9)
    np.testing.assert_allclose(np.diag(advice.covariance(rows, rows)), expected, atol=1e-9)
    assert np.linalg.eigvalsh(advice.covariance(rows, rows)).min() > -1e-9


def test_no_advice_changes_nothing() -> None:
    kernel = kernel_of(BLOCKS)
    assert advised(kernel, FLAT, []) == (kernel, FLAT)
    assert weights_of(kernel, [np.zeros(3)]) == {}


def _weight(covariance: Covariance, rows: Array, values: Array, trend: Trend) -> float:
    fitted = fit(covariance, rows, values, np.zeros(len(rows)), trend=trend)
    size = len(covariance.priors)
    return weights_of(covariance, [member.hyper[:size] for member in fitted.members])["old"]


def test_an_adviser_that_agrees_gains_weight_and_one_upside_down_loses_it() -> None:
    kernel, trend = advised(kernel_of(BLOCKS), FLAT, [Advice("old", _fitted(20))])
    beforehand = weights_of(kernel, [np.array([prior.mean for prior in kernel.priors])])["old"]
    rows = _rows(12, 6)
    values = 40.0 + 7.0 * _values(rows, 0.05, 1)
    assert _weight(kernel, rows, values, trend) > beforehand > _weight(kernel, rows, -values, trend)
    weights = [_weight(kernel, rows[:count], -values[:count], trend) for count in (3, 6, 12)]
    assert weights == sorted(weights, reverse=True)
    assert weights[-1] < 0.1


def test_what_it_expects_does_not_depend_on_units_of_the_adviser() -> None:
    rows = _rows(14, 1)
    plain = fit(kernel_of(BLOCKS), rows, _values(rows), np.zeros(14))
    other = fit(kernel_of(BLOCKS), rows, 60.0 + 8.0 * _values(rows), np.zeros(14))
    wanted = _rows(9, 2)
    np.testing.assert_allclose(Advice("a", plain).mean(wanted), Advice("a", other).mean(wanted), atol=1e-3)
    np.testing.assert_allclose(Advice("a", plain).variance(wanted), Advice("a", other).variance(wanted), atol=1e-3)


def test_what_is_believed_of_trials_on_their_way_leaves_less_doubt() -> None:
    kernel, trend = advised(kernel_of(BLOCKS), FLAT, [Advice("old", _fitted())])
    seen = _observations(8, 3)
    belief = fit(kernel, seen.rows, seen.values, np.zeros(8), trend=trend)
    wanted = _rows(3, 9)
    later = belief.believing(wanted)
    np.testing.assert_allclose(later.predict(wanted)[0], belief.predict(wanted)[0], atol=0.05)
    assert np.all(later.predict(wanted)[1] < belief.predict(wanted)[1])


def test_an_advice_remembers_rows_without_mixing_them_up() -> None:
    advice = Advice("old", _fitted())
    sets = [_rows(4, seed) for seed in range(30)]
    first = [advice.mean(rows) for rows in sets]
    again = [replace(advice, _known={}).mean(rows) for rows in sets]
    np.testing.assert_array_equal(first, again)
    assert first[0] == pytest.approx(advice.mean(sets[0]))
