"""Shapley effects against published values and against their definition."""

from collections.abc import Callable
from itertools import permutations, product
from math import factorial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from optimiser.review.variance_shares import (
    MOST_MIXED,
    interval,
    mix_design,
    paired_evens,
    shapley_effects,
    shares_of_variance,
)

Array = NDArray[np.float64]


def ishigami(points: Array) -> Array:
    one, two, three = np.moveaxis(points, -1, 0)
    return np.asarray(np.sin(one) + 7.0 * np.sin(two) ** 2 + 0.1 * three**4 * np.sin(one))


def friedman_1(points: Array) -> Array:
    x = np.moveaxis(points, -1, 0)
    return np.asarray(10 * np.sin(np.pi * x[0] * x[1]) + 20 * (x[2] - 0.5) ** 2 + 10 * x[3] + 5 * x[4])


def estimated(function: Callable[[Array], Array], low: float, high: float, dimensions: int, points: int) -> Array:
    rng = np.random.default_rng(7)
    design = mix_design(dimensions, points, rng)
    first, second = (
        (low + (high - low) * paired_evens(design, rng)).reshape(dimensions, 2, design.pairs).transpose(1, 2, 0)
    )
    figures = function(np.where(design.from_second, second[:, None], first[:, None]))
    effects: Array = shapley_effects(design, figures[None])[0]
    return effects


def test_ishigami() -> None:
    """Variance 13.844588 and Shapley effects as in Owen (2014), section 5, for a = 7, b = 0.1."""
    effects = estimated(ishigami, -np.pi, np.pi, 3, 200_000)
    assert effects.sum() == pytest.approx(13.844588, rel=0.02)
    assert effects / effects.sum() == pytest.approx([0.435747, 0.442411, 0.121842], abs=0.01)


FRIEDMAN = [0.197310 + 0.074924 / 2, 0.197310 + 0.074924 / 2, 0.093267, 0.349751, 0.087438]
"""Friedman (1991), example 1: first-order indices and half of the one interaction each, in closed form."""


def test_friedman_1_from_all_mixes() -> None:
    effects = estimated(friedman_1, 0.0, 1.0, 5, 200_000)
    assert effects / effects.sum() == pytest.approx(FRIEDMAN, abs=0.01)


def test_friedman_1_among_settings_that_do_nothing_from_walks() -> None:
    effects = estimated(friedman_1, 0.0, 1.0, MOST_MIXED + 5, 400_000)
    assert effects / effects.sum() == pytest.approx([*FRIEDMAN, 0, 0, 0, 0, 0], abs=0.012)


def by_definition(table: Array) -> Array:
    """Each setting's mean gain in explained variance over all orders in which settings can be told, on {0, 1}^d."""
    dimensions = table.ndim

    def explained(told: tuple[int, ...]) -> float:
        rest = tuple(axis for axis in range(dimensions) if axis not in told)
        return float(table.mean(axis=rest).var()) if told else 0.0

    effects = np.zeros(dimensions)
    for order in permutations(range(dimensions)):
        for place, setting in enumerate(order):
            effects[setting] += explained(order[: place + 1]) - explained(order[:place])
    return effects / factorial(dimensions)


@pytest.mark.parametrize("seed", range(3))
def test_all_mixes_averaged_over_every_pair_of_points_give_the_definition(seed: int) -> None:
    table = np.random.default_rng(seed).normal(size=(2, 2, 2))
    design = mix_design(3, 8, np.random.default_rng(0))
    corners = np.array(list(product((0, 1), repeat=3)))
    effects = np.zeros(3)
    for first, second in product(corners, corners):
        mixes = np.where(design.from_second, second, first)
        effects += shapley_effects(design, table[tuple(np.moveaxis(mixes, -1, 0))][None])[0] / 64
    assert effects == pytest.approx(by_definition(table), abs=1e-12)


@settings(deadline=None, max_examples=50)
@given(st.integers(1, MOST_MIXED), st.integers(0, 2**32 - 1))
def test_all_mixes_never_give_a_negative_effect(dimensions: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    design = mix_design(dimensions, 16, rng)
    figures = rng.normal(size=(3, *design.from_second.shape[:2]))
    effects = shapley_effects(design, figures)
    assert np.all(effects >= 0)
    assert shares_of_variance(effects).sum(axis=1) == pytest.approx(1.0)


def test_walks_start_at_the_first_point_and_end_at_the_second() -> None:
    design = mix_design(9, 400, np.random.default_rng(1))
    assert design.pairs == 36
    assert not design.from_second[:, 0].any()
    assert design.from_second[:, -1].all()
    assert np.all(np.diff(design.from_second.sum(axis=2), axis=1) == 1)


def test_a_score_that_never_varies_is_owed_to_all_alike() -> None:
    assert shares_of_variance(np.zeros((1, 4))).tolist() == [[0.25] * 4]


def test_an_estimate_below_nothing_counts_as_nothing() -> None:
    assert shares_of_variance(np.array([[3.0, -0.1, 1.0]]))[0] == pytest.approx([0.75, 0.0, 0.25])


def test_the_middle_nine_tenths() -> None:
    assert interval(list(np.linspace(0, 1, 101))) == pytest.approx((0.05, 0.95))


def test_no_setting_no_shares() -> None:
    with pytest.raises(ValueError, match="at least one setting"):
        mix_design(0, 10, np.random.default_rng(0))


def test_every_cell_of_first_and_second_number_holds_one_pair() -> None:
    rng = np.random.default_rng(3)
    design = mix_design(2, 4 * 36, rng)
    assert design.pairs == 36
    for first, second in paired_evens(design, rng).reshape(2, 2, 36):
        assert len(set(zip(np.floor(6 * first), np.floor(6 * second), strict=True))) == 36
