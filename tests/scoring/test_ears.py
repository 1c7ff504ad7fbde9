"""Weights from ratings: what is put in comes out again, and chance is not mistaken for an ear."""

from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.stats import norm

from optimiser.errors import BadInput
from optimiser.scoring.blind_test import chance_of_guessing, rated_by_blind_test, steps_from_blind_test
from optimiser.scoring.ears import (
    RATING_SE,
    EarFit,
    Rated,
    fit_weights,
)
from optimiser.scoring.figures import PARTS
from optimiser.scoring.match_score import SHIPPED_WEIGHTS, PartWeights, score_of_steps

TRUE = PartWeights(tone=0.4, dynamics=2.5, attack=2.0, residual=0.6, texture=0.8, decay=0.2, noise=0.3)


def listened(
    count: int, seed: int, weights: PartWeights = SHIPPED_WEIGHTS, noise_points: float = 0.0, step: float = 0.0
) -> list[Rated]:
    """Pairs whose parts lie mostly one to four steps apart, rated by these weights with noise, on a coarse scale."""
    rng = np.random.default_rng(seed)
    pairs = []
    for row in rng.lognormal(0.3, 0.7, (count, 7)).tolist():
        rating = score_of_steps(row, weights) + rng.normal(0.0, noise_points)
        rating = step * round(rating / step) if step else rating
        pairs.append(Rated(dict(zip(PARTS, row, strict=True)), float(np.clip(rating, 0, 100))))
    return pairs


def unrelated(count: int, seed: int) -> list[Rated]:
    """Pairs with ratings that have nothing to do with them."""
    ratings = np.random.default_rng(10_000 + seed).uniform(0, 100, count)
    return [Rated(pair.steps, float(rating)) for pair, rating in zip(listened(count, seed), ratings, strict=True)]


def test_exact_ratings_of_many_pairs_give_their_weights_back() -> None:
    fit = fit_weights(listened(400, 1, TRUE))
    assert np.array(fit.weights.in_order()) == pytest.approx(np.array(TRUE.in_order()), abs=0.12)
    assert fit.better
    assert fit.rms < 1.0 < fit.shipped_rms
    assert fit.warning == ""


def test_noisy_ratings_give_weights_within_their_error() -> None:
    # The spread over simulated panels is the standard error of one; their mean is unsure by that over its root. The
    # prior rows pull a little, less than 0.05 with so many pairs.
    fits = [np.array(fit_weights(listened(300, seed, TRUE, 7.0, 5.0)).weights.in_order()) for seed in range(16)]
    mean, error = np.mean(fits, axis=0), np.std(fits, axis=0, ddof=1) / np.sqrt(len(fits))
    assert np.all(np.abs(mean - np.array(TRUE.in_order())) < 3.0 * error + 0.05)


def test_an_ear_that_differs_is_found_with_forty_pairs() -> None:
    better = [fit_weights(listened(40, seed, TRUE, 7.0, 5.0)).better for seed in range(20)]
    assert np.mean(better) >= 0.9


@pytest.mark.parametrize("count", [12, 45])
def test_unrelated_ratings_are_hardly_ever_taken_for_better(count: int) -> None:
    better = [fit_weights(unrelated(count, seed)).better for seed in range(60)]
    # one standard error is passed by chance in 16 % of cases; here two have to be
    assert np.mean(better) <= 0.16


def test_an_ear_that_agrees_with_the_shipped_weights_seldom_gets_others() -> None:
    fits = [fit_weights(listened(40, seed, SHIPPED_WEIGHTS, 7.0, 5.0)) for seed in range(40)]
    assert np.mean([fit.better for fit in fits]) <= 0.16
    assert all(fit.shipped_rms < 9.0 for fit in fits)


def test_the_fit_is_the_minimum_that_another_solver_finds() -> None:
    # scipy.optimize.least_squares (trust region, bounds) on the same errors in points and the same prior rows
    pairs = listened(30, 3, TRUE, 7.0)
    squares = np.array([[pair.steps[name] ** 2 for name in PARTS] for pair in pairs])
    ratings = np.array([pair.rating for pair in pairs])
    shipped = np.array(SHIPPED_WEIGHTS.in_order())

    def errors(weights: NDArray[np.float64]) -> NDArray[np.float64]:
        missed = 100.0 / (1.0 + squares @ weights / 36.0) - ratings
        return np.concatenate([missed / RATING_SE, weights - shipped])

    found = least_squares(errors, shipped, bounds=(0.0, np.inf), xtol=1e-12, ftol=1e-12, gtol=1e-12)
    assert np.array(fit_weights(pairs).weights.in_order()) == pytest.approx(found.x, abs=2e-3)


def test_a_part_that_never_differed_keeps_its_weight() -> None:
    pairs = [Rated({**pair.steps, "noise": 0.0}, pair.rating) for pair in listened(20, 5, TRUE, 5.0)]
    assert fit_weights(pairs).weights.noise == pytest.approx(SHIPPED_WEIGHTS.noise)


@given(
    rows=st.lists(
        st.tuples(st.lists(st.floats(0, 40), min_size=7, max_size=7), st.sampled_from([0.0, 35.0, 70.0, 95.0, 100.0])),
        min_size=10,
        max_size=14,
    ),
    order=st.randoms(use_true_random=False),
)
@settings(max_examples=25, deadline=None)
def test_any_ratings_give_weights_whatever_their_order(rows: list[tuple[list[float], float]], order: Random) -> None:
    pairs = [Rated(dict(zip(PARTS, steps, strict=True)), rating) for steps, rating in rows]
    mixed = list(pairs)
    order.shuffle(mixed)
    fit = fit_weights(pairs)
    assert isinstance(fit, EarFit)
    assert all(weight >= 0.0 for weight in fit.weights.in_order())
    assert np.isfinite([fit.rms, fit.shipped_rms, fit.plain_rms, fit.gain, fit.gain_se]).all()
    assert fit_weights(mixed) == fit


def test_too_few_pairs_are_refused_and_few_are_said_to_be() -> None:
    with pytest.raises(BadInput, match="Rated pairs: 9; that is too few"):
        fit_weights(listened(9, 1))
    assert "39 rated pairs are few" in fit_weights(listened(39, 1)).warning


def test_pairs_that_cannot_be_are_refused() -> None:
    steps = dict.fromkeys(PARTS, 1.0)
    for wrong in ({"tone": 1.0}, {**steps, "tone": float("nan")}):
        with pytest.raises(BadInput):
            Rated(wrong, 50.0)
    for rating, rating_se in ((101.0, 1.0), (50.0, 0.0)):
        with pytest.raises(BadInput):
            Rated(steps, rating, rating_se)


def test_three_of_four_right_is_one_step() -> None:
    # z(p) / z(0.75) with p = (correct + 0.5) / (tries + 1), normal quantiles from scipy
    steps, error = steps_from_blind_test(750, 1000)
    assert steps == pytest.approx(1.0, abs=0.01)
    assert error == pytest.approx(np.sqrt(0.75 * 0.25 / 1001) / norm.pdf(norm.ppf(0.75)) / norm.ppf(0.75), rel=0.01)
    assert steps_from_blind_test(16, 16)[0] == pytest.approx(norm.ppf(16.5 / 17) / norm.ppf(0.75))
    assert steps_from_blind_test(8, 16)[0] == 0.0
    assert steps_from_blind_test(2, 16)[0] == 0.0


def test_the_error_of_a_blind_test_is_its_spread() -> None:
    rng = np.random.default_rng(4)
    told = [steps_from_blind_test(int(correct), 200)[0] for correct in rng.binomial(200, 0.8, 2000)]
    assert steps_from_blind_test(160, 200)[1] == pytest.approx(np.std(told), rel=0.1)


@pytest.mark.parametrize(
    ("correct", "tries", "chance"),
    [(12, 16, 0.0384), (13, 16, 0.0106), (9, 10, 0.0107), (15, 20, 0.0207), (5, 5, 1 / 32), (7, 8, 0.0352)],
)
def test_guessing_does_as_well_as_the_binomial_table_says(correct: int, tries: int, chance: float) -> None:
    assert chance_of_guessing(correct, tries) == pytest.approx(chance, abs=5e-5)


@pytest.mark.parametrize(("tries", "least"), [(10, 9), (12, 10), (16, 12), (20, 15), (25, 18)])
def test_fewest_right_answers_that_guessing_seldom_gives(tries: int, least: int) -> None:
    # Clark 1982: under five in a hundred
    assert chance_of_guessing(least, tries) < 0.05 <= chance_of_guessing(least - 1, tries)


@pytest.mark.parametrize(("correct", "tries"), [(1, 0), (5, 4), (-1, 4)])
def test_blind_tests_that_cannot_be_are_refused(correct: int, tries: int) -> None:
    with pytest.raises(BadInput):
        steps_from_blind_test(correct, tries)


def test_blind_tests_take_part_in_the_fit() -> None:
    heard = rated_by_blind_test(dict.fromkeys(PARTS, 0.5), 12, 16)
    distance, error = steps_from_blind_test(12, 16)
    assert heard.rating == pytest.approx(100 / (1 + distance**2 / 36))
    higher = 100 / (1 + (distance + 0.01) ** 2 / 36)
    assert heard.rating_se == pytest.approx((heard.rating - higher) / 0.01 * error, rel=0.02)
    assert fit_weights([*listened(12, 2), heard]).pairs == 13
