"""Expected improvement against closed forms and simulation, and the logarithm where plain code gives up."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.proposals.acquisition import (
    averaged,
    chance_above,
    knowledge_gradient,
    log_expected_improvement,
    log_h,
)


def _improvement(mean: float, sd: float, best: float) -> float:
    return float(np.exp(log_expected_improvement(np.array([mean]), np.array([sd]), best))[0])


@pytest.mark.parametrize(
    ("mean", "sd", "best", "expected"),
    [
        (0.0, 1.0, 0.0, 0.3989422804),
        (1.0, 1.0, 0.0, 1.0833154706),
        (-1.0, 1.0, 0.0, 0.0833154706),
        (0.5, 0.2, 0.6, 0.0395593115),
        (0.0, 2.0, 1.0, 0.3955931148),
    ],
)
def test_expected_improvement_in_closed_form(mean: float, sd: float, best: float, expected: float) -> None:
    """Jones, Schonlau and Welch 1998."""
    assert _improvement(mean, sd, best) == pytest.approx(expected, abs=1e-10)


@pytest.mark.parametrize(
    ("z", "expected"),
    [
        (-1.0, -2.4851210257),
        (-5.0, -16.7443011627),
        (-10.0, -55.5531220361),
        (-40.0, -808.2985683566),
        (-100.0, -5010.1295788),
    ],
)
def test_logarithm_where_plain_code_underflows(z: float, expected: float) -> None:
    """Ament et al. 2023, to the digits given."""
    assert log_h(np.array([z]))[0] == pytest.approx(expected, abs=5e-8)


@given(st.floats(-400.0, 30.0), st.floats(1e-3, 1.0))
def test_logarithm_rises_everywhere(z: float, step: float) -> None:
    lower, upper = log_h(np.array([z, z + step]))
    assert math.isfinite(lower)
    assert upper > lower


@pytest.mark.parametrize("seam", [-1.0, -150.0])
def test_pieces_of_the_logarithm_meet(seam: float) -> None:
    below, above = log_h(np.array([seam - 1e-9, seam + 1e-9]))
    assert above - below == pytest.approx(0.0, abs=1e-6)


@given(st.floats(-5.0, 5.0))
def test_gain_minus_loss_is_the_mean(mean: float) -> None:
    """EI(m) - EI(-m) = m, closed form."""
    assert _improvement(mean, 1.0, 0.0) - _improvement(-mean, 1.0, 0.0) == pytest.approx(mean, abs=1e-9)


def test_what_is_certain_gains_its_distance_or_nothing() -> None:
    gains = log_expected_improvement(np.array([3.0, 1.0]), np.zeros(2), 2.0)
    assert gains[0] == pytest.approx(0.0)
    assert gains[1] == -math.inf


def test_average_over_members() -> None:
    np.testing.assert_allclose(averaged(np.log([[1.0, 2.0], [3.0, 6.0]])), np.log([2.0, 4.0]))


def test_chance_to_be_the_best() -> None:
    """P(N(1, 2) > 0) = P(N(1, 1) > N(0, 1)) = 0.760250, closed form."""
    chance = chance_above(np.array([[1.0]]), np.array([[math.sqrt(2.0)]]), np.array([[0.0]]))
    assert chance[0] == pytest.approx(0.760250, abs=1e-6)


@given(st.lists(st.tuples(st.floats(-3, 3), st.floats(-2, 2)), min_size=1, max_size=6))
def test_knowledge_gradient_agrees_with_the_integral(lines: list[tuple[float, float]]) -> None:
    """Against the trapezoidal rule over the standard normal density."""
    means, slopes = np.array(lines).T
    z = np.linspace(-10.0, 10.0, 20001)
    gains = (means[:, None] + slopes[:, None] * z).max(axis=0) - means.max()
    density = np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi)
    assert knowledge_gradient(means, slopes) == pytest.approx(float((gains * density).sum() * 1e-3), abs=2e-6)


def test_nothing_is_learnt_where_all_move_together() -> None:
    assert knowledge_gradient(np.array([1.0, 2.0]), np.array([0.7, 0.7])) == 0.0
