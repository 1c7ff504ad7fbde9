"""Loudspeaker and microphone against acoustics: piston null, proximity, comb, off axis."""

import numpy as np
import pytest
from scipy.signal import lfilter
from scipy.special import jn_zeros

from optimiser.rehearsal import RATE_HZ, Loudspeaker, Place, Room
from optimiser.rehearsal.microphone import (
    N_RESPONSE,
    SOUND_SPEED_M_PER_S,
    gradient_boost,
    impulse_response,
    pick_up,
    piston_directivity,
    pressure,
    radiating_radius_m,
)

NO_FLOOR = Room(floor_reflection=0.0)


def level_db(place: Place, frequency_hz: float, room: Room = NO_FLOOR) -> float:
    return float(20.0 * np.log10(np.abs(pick_up(np.array([frequency_hz]), place, room)[0])))


def test_piston_has_its_first_null_at_the_first_zero_of_j1() -> None:
    """3.8317: printed in acoustics textbooks, and scipy's Bessel zeros."""
    null = jn_zeros(1, 1)[0]
    assert null == pytest.approx(3.8317, abs=5e-5)
    assert piston_directivity(np.array([0.0, null])) == pytest.approx([1.0, 0.0], abs=1e-9)
    assert piston_directivity(np.array([3.83, 3.84])).tolist() == sorted(
        piston_directivity(np.array([3.83, 3.84])), reverse=True
    )


def test_cone_radiates_whole_below_and_from_less_of_itself_above() -> None:
    radii = radiating_radius_m(np.array([100.0, 900.0, 3_600.0]), NO_FLOOR)
    assert radii == pytest.approx([0.125, 0.125, 0.0625])


def test_proximity_boost_is_root_two_where_the_wave_number_times_distance_is_one() -> None:
    """|1 + 1/(jkr)| = sqrt(1 + 1/(kr)^2), closed form."""
    distance_m = 0.05
    frequency_hz = SOUND_SPEED_M_PER_S / (2.0 * np.pi * distance_m)
    assert np.abs(gradient_boost(np.array([frequency_hz]), distance_m))[0] == pytest.approx(np.sqrt(2.0))


def test_near_microphone_has_more_low_end() -> None:
    tilts = [level_db(Place(0.0, mm, 0.0), 100.0) - level_db(Place(0.0, mm, 0.0), 1_000.0) for mm in (10, 50, 200, 600)]
    assert tilts == sorted(tilts, reverse=True)


def test_away_from_the_centre_there_is_more_low_end_and_less_bite() -> None:
    """Common practice, no source: "more low end, less bite"."""
    bites = [level_db(Place(mm, 30.0, 0.0), 4_000.0) - level_db(Place(mm, 30.0, 0.0), 200.0) for mm in (0, 30, 60, 90)]
    assert bites == sorted(bites, reverse=True)
    assert bites[0] - bites[-1] > 6.0


def test_turned_microphone_hears_fewer_highs() -> None:
    turns = (0.0, 20.0, 40.0, 60.0)
    highs = [level_db(Place(0.0, 30.0, turn), 9_000.0) - level_db(Place(0.0, 30.0, turn), 1_500.0) for turn in turns]
    assert highs == sorted(highs, reverse=True)
    assert highs[0] - highs[-1] > 2.0


def test_floor_makes_a_comb_where_the_paths_differ_by_half_a_wavelength() -> None:
    """Two rays and a hard floor: first dip at c / (2 x difference in path), closed form."""
    room = Room(floor_cutoff_hz=1e9, gradient_share=0.0, decouple_hz=1.0, cone_radius_m=0.01, height_m=0.4)
    place = Place(0.0, 940.0, 0.0)
    straight_m = 1.0
    difference_m = np.hypot(straight_m, 0.8) - straight_m
    expected_hz = SOUND_SPEED_M_PER_S / (2.0 * difference_m)
    frequencies_hz = np.linspace(0.5 * expected_hz, 1.5 * expected_hz, 2_001)
    level = np.abs(pick_up(frequencies_hz, place, room))
    assert frequencies_hz[np.argmin(level)] == pytest.approx(expected_hz, rel=0.01)


def test_loudspeaker_falls_by_24_decibels_per_octave_above_and_12_below() -> None:
    """Slopes of fourth-order and second-order filters, closed form far from the corners."""
    level = 20.0 * np.log10(np.abs(Loudspeaker(modes=()).response(np.array([5.5, 11.0, 7_000.0, 14_000.0]))))
    assert level[1] - level[0] == pytest.approx(12.0, abs=0.3)
    assert level[2] - level[3] > 20.0


def test_sound_reaches_the_microphone_after_its_way_and_has_died_away_at_the_end() -> None:
    answer = impulse_response(Loudspeaker(), Place(20.0, 400.0, 0.0), Room())
    way_samples = 48 + RATE_HZ * 0.46 / SOUND_SPEED_M_PER_S
    assert np.sum(answer[: int(way_samples) - 20] ** 2) < 1e-4 * np.sum(answer**2)
    assert np.sum(answer[N_RESPONSE // 2 :] ** 2) < 1e-5 * np.sum(answer**2)


def test_pressure_is_a_plain_convolution() -> None:
    rng = np.random.default_rng(0)
    voltage, answer = rng.normal(size=5_000), rng.normal(size=300)
    assert pressure(voltage, answer) == pytest.approx(lfilter(answer, [1.0], voltage))
