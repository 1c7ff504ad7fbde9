"""Scores that cannot leave their scale: moments against numerical integration, and what must hold for any belief."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from optimiser.surrogate import bounded, mixture


@pytest.mark.parametrize(("mean", "sd"), [(70.0, 3.0), (96.0, 4.0), (113.0, 52.0), (-20.0, 30.0), (180.0, 9.0)])
def test_moments_are_those_that_scipy_integrates(mean: float, sd: float) -> None:
    """Density between the ends by quadrature, what lies beyond them at the ends by the normal distribution's tails."""
    law = norm(mean, sd)
    tails = ((0.0, law.cdf(0.0)), (100.0, law.sf(100.0)))

    def expectation(power: int) -> float:
        inside, _ = quad(lambda x: x**power * law.pdf(x), 0.0, 100.0, points=[min(max(mean, 1.0), 99.0)], limit=200)
        return float(inside + sum(end**power * chance for end, chance in tails))

    told = bounded(np.array([[mean]]), np.array([[sd**2]]), 0.0, 100.0)
    assert told[0][0] == pytest.approx(expectation(1), abs=1e-6)
    assert told[1][0] ** 2 == pytest.approx(expectation(2) - expectation(1) ** 2, abs=1e-4)


beliefs = st.lists(st.tuples(st.floats(-300, 400), st.floats(0, 150)), min_size=1, max_size=4)


@given(beliefs)
def test_what_is_told_stays_on_the_scale_and_is_no_surer_than_it_may_be(members: list[tuple[float, float]]) -> None:
    means, sds = (np.array([[member[place]] for member in members]) for place in (0, 1))
    mean, sd = bounded(means, sds**2, 0.0, 100.0)
    assert 0.0 <= mean[0] <= 100.0
    assert 0.0 <= sd[0] <= mixture(means, sds**2)[1][0] + 1e-6
    assert sd[0] ** 2 <= mean[0] * (100.0 - mean[0]) + 1e-6


@given(st.lists(st.tuples(st.floats(40, 60), st.floats(0.01, 3)), min_size=1, max_size=4))
def test_far_from_the_ends_nothing_changes(members: list[tuple[float, float]]) -> None:
    means, sds = (np.array([[member[place]] for member in members]) for place in (0, 1))
    assert np.allclose(bounded(means, sds**2, 0.0, 100.0), mixture(means, sds**2), atol=1e-6)
