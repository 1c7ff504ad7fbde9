"""A botched value is found out among good ones, good values are trusted, and a repeat that agrees clears a suspect."""

import numpy as np
import pytest

from optimiser.space import Block
from optimiser.surrogate import Effort, Fitted, fit, kernel_of, mixture
from optimiser.surrogate.triangular import Array

KERNEL = kernel_of((Block("gain", "knob", (0,), 0), Block("tone", "knob", (1,), 0)))


def rows_of(count: int, seed: int) -> Array:
    return np.random.default_rng(seed).uniform(size=(count, 2))


def smooth(rows: Array) -> Array:
    return 60.0 + 10.0 * np.sin(3.0 * rows[:, 0]) - 6.0 * (rows[:, 1] - 0.3) ** 2


def measured(rows: Array, seed: int) -> Array:
    return smooth(rows) + 0.3 * np.random.default_rng([seed, 1]).normal(size=len(rows))


def believed(rows: Array, values: Array) -> Fitted:
    return fit(KERNEL, rows, values, np.zeros(len(rows)))


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("off", [-25.0, 25.0])
def test_a_botched_value_is_named_and_does_little_harm(seed: int, off: float) -> None:
    """The belief with it is nearly as near the truth as the one that never saw it."""
    rows = rows_of(16, seed)
    values = measured(rows, seed)
    values[4] += off
    fitted = believed(rows, values)
    assert fitted.doubted == (4,)
    fresh = rows_of(60, 100 + seed)
    without = believed(np.delete(rows, 4, axis=0), np.delete(values, 4))
    error, least = (np.abs(mixture(*one.predict(fresh))[0] - smooth(fresh)).mean() for one in (fitted, without))
    assert error <= least + 0.5


def test_good_values_are_trusted() -> None:
    """Of 30 hunts without a botched value at most one has a value doubted."""
    doubted = 0
    for seed in range(30):
        rows = rows_of(14, seed)
        doubted += bool(believed(rows, measured(rows, seed)).doubted)
    assert doubted <= 1


def test_a_repeat_that_agrees_clears_a_suspect() -> None:
    rows = rows_of(16, 0)
    values = measured(rows, 0)
    values[4] += 25.0
    assert believed(rows, values).doubted == (4,)
    again = believed(np.concatenate([rows, rows[4:5]]), np.append(values, values[4] + 0.2))
    assert again.doubted == ()
    assert mixture(*again.predict(rows[4:5]))[0][0] == pytest.approx(values[4], abs=3.0)


def test_two_values_are_never_doubted() -> None:
    assert believed(rows_of(2, 0), np.array([0.0, 100.0])).doubted == ()


def test_scales_learnt_from_some_values_predict_from_all_of_them() -> None:
    """As near the truth as scales from all 200 values, and a botched value that they never saw is found out."""
    rows = rows_of(200, 3)
    values = measured(rows, 3)
    values[101] += 25.0
    fresh = rows_of(60, 103)
    some, every = (
        fit(KERNEL, rows, values, np.zeros(200), effort=Effort(members=1, learning=learning)) for learning in (50, None)
    )
    assert some.doubted == every.doubted == (101,)
    errors = [np.abs(mixture(*one.predict(fresh))[0] - smooth(fresh)).mean() for one in (some, every)]
    assert errors[0] == pytest.approx(errors[1], abs=0.05)
    fewer = fit(KERNEL, rows[::4], values[::4], np.zeros(50), effort=Effort(members=1))
    assert mixture(*some.predict(fresh))[1].mean() < mixture(*fewer.predict(fresh))[1].mean()
