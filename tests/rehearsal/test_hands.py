"""Errors of hands, days and files."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.rehearsal import NO_ERRORS, Errors, Place
from optimiser.rehearsal.hands import as_file, delayed, drift_of, stand_mic, turn_knob

PLACE = Place(25.0, 25.0, 0.0)


def test_hands_keep_within_the_tolerance_nineteen_times_in_twenty() -> None:
    """Two standard deviations of a normal hold 95.45 %, closed form."""
    rng = np.random.default_rng(0)
    turned = np.array([turn_knob(12.0, 1.0 / 12.0, Errors(), rng) for _ in range(4_000)])
    assert np.mean(np.abs(turned - 12.0) <= 1.0 / 12.0) == pytest.approx(0.9545, abs=0.01)
    stood = np.array([stand_mic(PLACE, 5.0, Errors(), rng).radial_mm for _ in range(4_000)])
    assert np.std(stood) == pytest.approx(2.5, rel=0.05)


@given(st.floats(7.0, 17.0), st.integers(0, 2**31))
def test_knob_never_leaves_the_dial(hours: float, seed: int) -> None:
    assert 7.0 <= turn_knob(hours, 0.5, Errors(), np.random.default_rng(seed)) <= 17.0


@given(st.integers(0, 1_000), st.integers(0, 2**31))
def test_a_day_has_one_drift(day: int, seed: int) -> None:
    assert drift_of(day, Errors(), seed) == drift_of(day, Errors(), seed)
    assert drift_of(day, Errors(), seed) != drift_of(day + 1, Errors(), seed)


def test_nothing_is_off_without_errors() -> None:
    rng = np.random.default_rng(0)
    sound = rng.normal(size=500)
    assert turn_knob(12.5, 1.0, NO_ERRORS, rng) == 12.5
    assert stand_mic(PLACE, 5.0, NO_ERRORS, rng) == PLACE
    drift = drift_of(3, NO_ERRORS, 0)
    assert (drift.gain_db, drift.treble_db, drift.radial_mm, drift.distance_mm) == (0.0, 0.0, 0.0, 0.0)
    assert as_file(sound, NO_ERRORS, rng, may_turn=True) == pytest.approx(sound)


@settings(max_examples=30)
@given(st.floats(0.0, 600.0), st.floats(50.0, 12_000.0))
def test_delay_shifts_a_tone_by_a_fraction_of_a_sample(delay_samples: float, tone_hz: float) -> None:
    """sin(w (n - d)), closed form, once the filter has filled."""
    clock = np.arange(3_000)
    turns = 2.0 * np.pi * tone_hz / 48_000.0
    late = delayed(np.sin(turns * clock), delay_samples)
    assert late[800:2_900] == pytest.approx(np.sin(turns * (clock[800:2_900] - delay_samples)), abs=2e-3)


def test_some_captures_come_back_upside_down_and_no_reference_does() -> None:
    sound = np.random.default_rng(1).normal(size=2_000)
    still = Errors(latency_ms=0.0)
    signs = {True: 0, False: 0}
    for may_turn in signs:
        for seed in range(200):
            file = as_file(sound, still, np.random.default_rng(seed), may_turn=may_turn)
            signs[may_turn] += int(file @ sound < 0.0)
    assert signs[False] == 0
    assert 30 <= signs[True] <= 70
