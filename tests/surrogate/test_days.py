"""Days: a constant added to a whole day is found again, and told with an error that deserves the name."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.surrogate import Array, Effort, fit, kernel_of, mixture
from optimiser.surrogate.days import days_of, usual_variance
from tests.surrogate.test_fitting import BLOCKS, some_rows, truth

FEW = Effort(members=2, steps=20)
DAYS = (0,) * 10 + (1,) * 8 + (2,) * 6


def _rows(shared: bool) -> Array:
    """24 arrangements; where days are shared, each day begins with the first arrangement again."""
    rows = some_rows(24, 5)
    if shared:
        rows[10] = rows[18] = rows[0]
    return rows


def test_days_hang_together_by_arrangements_tried_on_both() -> None:
    rows = some_rows(8, 1)
    rows[2], rows[5] = rows[0], rows[3]
    chained = days_of(rows, np.array([0, 0, 1, 1, 2, 2, 3, 3]))
    assert chained is not None
    assert chained.chains[0] == chained.chains[1] == chained.chains[2] != chained.chains[3]
    assert chained.loose
    assert days_of(rows, np.zeros(8, dtype=int)) is None


@settings(max_examples=15, deadline=None)
@given(constant=st.floats(-40.0, 40.0), day=st.sampled_from([0, 1, 2]))
def test_a_constant_on_a_day_that_is_linked_moves_no_difference_between_arrangements(constant: float, day: int) -> None:
    rows, fresh = _rows(shared=True), some_rows(40, 6)
    values = truth(rows) + np.random.default_rng(3).normal(size=24)
    moved = values + constant * (np.array(DAYS) == day)
    beliefs = [fit(kernel_of(BLOCKS), rows, told, np.zeros(24), days=DAYS, effort=FEW) for told in (values, moved)]
    means, sds = zip(*(mixture(*belief.predict(fresh)) for belief in beliefs), strict=True)
    assert np.ptp(means[1] - means[0]) < 1e-6
    np.testing.assert_allclose(sds[0], sds[1], atol=1e-6)
    shifts = [belief.day_shifts() for belief in beliefs]
    assert shifts[0] is not None
    assert shifts[1] is not None
    share = np.array([DAYS.count(other) for other in range(3)]) / 24
    expected = constant * ((np.arange(3) == day) - share[day])
    np.testing.assert_allclose(shifts[1][0] - shifts[0][0], expected, atol=1e-6)


def test_without_any_link_a_large_constant_is_still_mostly_found() -> None:
    """Ten times the repeatability: nine tenths of it are told from arrangements nearby."""
    rows, fresh = _rows(shared=False), some_rows(40, 6)
    values = truth(rows) + np.random.default_rng(3).normal(size=24)
    moved = values + 10.0 * (np.array(DAYS) == 1)
    beliefs = [fit(kernel_of(BLOCKS), rows, told, np.zeros(24), days=DAYS, effort=FEW) for told in (values, moved)]
    means = [mixture(*belief.predict(fresh))[0] for belief in beliefs]
    assert np.std(means[1] - means[0]) < 0.1 * 10.0


@pytest.mark.parametrize("shared", [True, False])
def test_shifts_are_covered_by_their_intervals_in_simulation(shared: bool) -> None:
    """60 studies with shifts of 2 points and random arrangements: the 90 % intervals hold in 85 % of cases at least."""
    held = 0
    for seed in range(60):
        rng = np.random.default_rng([seed, 9])
        rows = some_rows(24, 100 + seed)
        if shared:
            rows[10] = rows[18] = rows[0]
        shifts = 2.0 * rng.normal(size=3)
        values = truth(rows) + shifts[list(DAYS)] + rng.normal(size=24)
        told = fit(kernel_of(BLOCKS), rows, values, np.zeros(24), days=DAYS, effort=FEW).day_shifts()
        assert told is not None
        true = shifts - shifts[list(DAYS)].mean()
        held += int(np.sum(np.abs(told[0] - true) <= 1.645 * told[1]))
    assert held >= 0.85 * 180


def test_what_days_usually_read_off_by_is_learnt() -> None:
    """As written down: two days' worth of the prior's 0.05, and the squares beyond their errors over the others."""
    assert usual_variance(np.zeros(1), np.zeros(1)) == pytest.approx(0.05)
    assert usual_variance(np.array([0.5, -0.5]), np.array([0.3, 0.3])) == pytest.approx((0.1 + 2 * 0.16) / 3.0)


def test_trials_on_their_way_change_no_expectation() -> None:
    rows, fresh = _rows(shared=True), some_rows(20, 6)
    values = truth(rows) + 6.0 * (np.array(DAYS) == 2) + np.random.default_rng(3).normal(size=24)
    belief = fit(kernel_of(BLOCKS), rows, values, np.zeros(24), days=DAYS, effort=FEW)
    later = belief.believing(fresh[:4])
    np.testing.assert_allclose(later.predict(fresh)[0], belief.predict(fresh)[0], atol=0.05)
    assert (later.predict(fresh)[1] <= belief.predict(fresh)[1] + 1e-6).all()
