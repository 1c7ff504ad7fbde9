"""What the belief promises of itself: it learns what matters, knows its noise, and is the same every time."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import kstest

from optimiser.space import Block
from optimiser.surrogate import Effort, Fitted, fit, kernel_of, mixture
from optimiser.surrogate.days import days_of
from optimiser.surrogate.likelihood import Likelihood, Observations
from optimiser.surrogate.sampling import SPREAD, climb, scatter
from optimiser.surrogate.triangular import Array

BLOCKS = (
    Block("gain", "knob", (0,), 0),
    Block("stage", "stage", (1,), 3),
    Block("mic", "spot", (2, 3, 4, 5), 4),
    Block("riffs", "order", (6, 7, 8, 9), 4),
    Block("cabinet", "choice", (10,), 3),
    Block("blend", "knob", (11,), 0, active=12),
)
DIGEST = """
import hashlib
import runpy
import sys
import numpy as np
here = runpy.run_path(sys.argv[1])
BLOCKS, some_rows = here["BLOCKS"], here["some_rows"]
from optimiser.surrogate import fit, kernel_of
for count in (20, 70):
    rows = some_rows(count, 0)
    days = [row % 3 for row in range(count)]
    fitted = fit(kernel_of(BLOCKS), rows, rows[:, 0] + rows[:, 1], np.full(count, 0.05), days=days)
    means, variances = fitted.predict(some_rows(300, 1))
    print(hashlib.sha256(means.tobytes() + variances.tobytes()).hexdigest())
"""


def some_rows(count: int, seed: int) -> Array:
    rng = np.random.default_rng(seed)
    places = np.random.default_rng(7).uniform(size=(4, 3))
    rows = np.zeros((count, 13))
    rows[:, 0] = rng.uniform(size=count)
    rows[:, 1] = rng.integers(3, size=count)
    rows[:, 2] = rng.integers(4, size=count)
    rows[:, 3:6] = places[rows[:, 2].astype(int)]
    rows[:, 6:10] = [rng.permutation(4) for _ in range(count)]
    rows[:, 10] = rng.integers(3, size=count)
    rows[:, 12] = rows[:, 10] == 2
    rows[:, 11] = rng.uniform(size=count) * rows[:, 12]
    return rows


def truth(rows: Array) -> Array:
    before = np.sign(rows[:, 7] - rows[:, 6])
    return 60.0 - 40.0 * (rows[:, 0] - 0.4) ** 2 + 3.0 * rows[:, 1] + 4.0 * rows[:, 3] + 2.0 * before


def _fitted(count: int, noise: float, seed: int, effort: Effort | None = None) -> Fitted:
    rows = some_rows(count, seed)
    values = truth(rows) + noise * np.random.default_rng([seed, 1]).normal(size=count)
    return fit(kernel_of(BLOCKS), rows, values, np.zeros(count), effort=effort)


def test_gradient_of_the_density_agrees_with_finite_differences() -> None:
    rows = some_rows(14, 2)
    days = days_of(rows, np.arange(14) // 5)
    values = np.random.default_rng(2).normal(size=14)
    observations = Observations(rows, values, np.full(14, 0.01), np.linspace(0, 0.5, 14), days)
    likelihood = Likelihood(kernel_of(BLOCKS), observations)
    point = 0.5 * np.random.default_rng(3).normal(size=len(likelihood.priors))
    step = 1e-5
    numeric = [
        (likelihood.log_density(point + step * unit)[0] - likelihood.log_density(point - step * unit)[0]) / (2 * step)
        for unit in np.eye(len(point))
    ]
    np.testing.assert_allclose(likelihood.log_density(point)[1], numeric, atol=1e-5)


def test_scattered_draws_follow_the_prior_where_nothing_is_known() -> None:
    """On the standard normal density itself they are normal with the spread that is written down.

    Kolmogorov and Smirnov's test at a fixed seed.
    """

    def density(point: Array) -> tuple[float, Array]:
        return -0.5 * float(point @ point), -point

    draws = scatter(density, np.zeros(3), 300, 20, np.random.default_rng(0))
    for column in np.array(draws).T:
        assert kstest(column / SPREAD, "norm").pvalue > 0.01


def test_scattered_draws_agree_where_much_is_known() -> None:
    def density(point: Array) -> tuple[float, Array]:
        away = point - 2.0
        return -0.5 * float(point @ point + 1e4 * away @ away), -point - 1e4 * away

    draws = scatter(density, np.full(2, 2.0), 20, 20, np.random.default_rng(0))
    np.testing.assert_allclose(draws, 2.0, atol=1e-2)


def test_climb_finds_the_top() -> None:
    def density(point: Array) -> tuple[float, Array]:
        away = point - np.array([1.0, -2.0])
        return -float((away**2).sum()), -2.0 * away

    np.testing.assert_allclose(climb(density, np.zeros(2), 50), [1.0, -2.0], atol=1e-4)


def test_prediction_beats_the_mean() -> None:
    """At arrangements never seen the error is far below the spread of the values."""
    fitted = _fitted(40, 0.5, 0)
    fresh = some_rows(300, 9)
    mean, _ = mixture(*fitted.predict(fresh))
    assert np.std(mean - truth(fresh)) < 0.35 * np.std(truth(fresh))


def test_error_bars_cover_what_was_never_seen() -> None:
    """Over several fits nine in ten new noiseless values lie within the 90 % bars, give or take."""
    inside = []
    for seed in range(6):
        fresh = some_rows(100, 100 + seed)
        mean, sd = mixture(*_fitted(20, 1.0, seed).predict(fresh))
        inside.append(np.mean(np.abs(mean - truth(fresh)) <= 1.645 * sd))
    assert 0.82 <= np.mean(inside) <= 0.99


def test_noise_is_learnt_from_repeats() -> None:
    """Ten arrangements, each measured four times with a standard deviation of 2."""
    rows = np.repeat(some_rows(10, 4), 4, axis=0)
    values = truth(rows) + 2.0 * np.random.default_rng(4).normal(size=len(rows))
    assert fit(kernel_of(BLOCKS), rows, values, np.zeros(len(rows))).noise() == pytest.approx(2.0, rel=0.35)


def test_known_errors_leave_no_noise_to_learn() -> None:
    """What the values' own standard errors explain is not counted twice."""
    rows = np.repeat(some_rows(10, 4), 4, axis=0)
    values = truth(rows) + 2.0 * np.random.default_rng(4).normal(size=len(rows))
    assert fit(kernel_of(BLOCKS), rows, values, np.full(len(rows), 2.0)).noise() < 1.2


def test_a_setting_without_effect_gets_little_weight() -> None:
    """The cabinet changes nothing, the gain much."""
    fitted = _fitted(40, 0.2, 1, Effort(members=1))
    row = some_rows(1, 3)
    by_gain, by_cabinet = np.repeat(row, 9, axis=0), np.repeat(row, 2, axis=0)
    by_gain[:, 0] = np.linspace(0, 1, 9)
    by_cabinet[:, 10] = [0, 1]
    assert np.ptp(mixture(*fitted.predict(by_cabinet))[0]) < 0.15 * np.ptp(mixture(*fitted.predict(by_gain))[0])


def test_trials_on_their_way_lower_doubt_and_move_nothing() -> None:
    fitted, wanted = _fitted(15, 0.5, 3), some_rows(20, 8)
    later = fitted.believing(wanted[:3])
    (means, variances), (later_means, later_variances) = fitted.predict(wanted), later.predict(wanted)
    np.testing.assert_allclose(later_means, means, atol=1e-6 * fitted.scale)
    assert (later_variances[:, :3] < variances[:, :3]).all()
    assert (later_variances <= variances + 1e-6).all()


def test_leaving_out_keeps_its_promise() -> None:
    """The 80 % bars of a belief cover about 80 % of the values left out."""
    coverage = [_fitted(25, 1.5, seed).left_out().coverage(0.8) for seed in range(6)]
    assert 0.7 <= np.mean(coverage) <= 0.92


@pytest.mark.parametrize("values", [[3.0], [3.0, 3.0], [0.0, 0.0, 0.0]])
def test_few_or_equal_values_give_a_finite_belief(values: list[float]) -> None:
    rows = some_rows(len(values), 0)
    means, variances = fit(kernel_of(BLOCKS), rows, np.array(values), np.zeros(len(values))).predict(some_rows(9, 1))
    assert np.isfinite(means).all()
    assert (variances > 0).all()


def test_values_must_be_finite_and_fit() -> None:
    with pytest.raises(ValueError, match="finite"):
        fit(kernel_of(BLOCKS), some_rows(2, 0), np.array([1.0, np.nan]), np.zeros(2))


def test_scale_and_shift_of_the_values_change_nothing_else() -> None:
    rows, fresh = some_rows(12, 0), some_rows(20, 1)
    one = mixture(*fit(kernel_of(BLOCKS), rows, truth(rows), np.zeros(12)).predict(fresh))
    other = mixture(*fit(kernel_of(BLOCKS), rows, 7.0 + 4.0 * truth(rows), np.zeros(12)).predict(fresh))
    np.testing.assert_allclose(other[0], 7.0 + 4.0 * one[0], rtol=1e-4)
    np.testing.assert_allclose(other[1], 4.0 * one[1], rtol=1e-2)


def test_same_bits_at_any_thread_count() -> None:
    digests = set()
    for threads in ("1", "2"):
        environment = {**os.environ, "OPENBLAS_NUM_THREADS": threads, "OMP_NUM_THREADS": threads}
        environment["PYTHONPATH"] = str(Path(__file__).parents[2])
        done = subprocess.run(
            [sys.executable, "-c", DIGEST, __file__], env=environment, capture_output=True, text=True, check=True
        )
        digests.add(done.stdout)
    assert len(digests) == 1
