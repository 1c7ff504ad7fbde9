"""Sections against closed forms and against scipy."""

import math

import numpy as np
import pytest
from scipy.signal import sosfreqz

from optimiser.rehearsal.filters import Shape, response, section, through

RATE_HZ = 48_000.0


def level_db(shape: Shape, at_hz: float, frequency_hz: float = 1_000.0, q: float = 0.7, gain_db: float = 0.0) -> float:
    found = response((section(shape, frequency_hz, RATE_HZ, q, gain_db),), np.array([at_hz]), RATE_HZ)
    return float(20.0 * np.log10(np.abs(found[0])))


@pytest.mark.parametrize("gain_db", [-9.0, -3.0, 4.0, 12.0])
def test_peak_lifts_its_centre_by_its_gain_and_leaves_the_ends_alone(gain_db: float) -> None:
    assert level_db("peak", 1_000.0, gain_db=gain_db) == pytest.approx(gain_db)
    assert level_db("peak", 1.0, gain_db=gain_db) == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("gain_db", [-6.0, 3.0, 8.0])
def test_shelf_lifts_one_end_whole_and_its_corner_by_half(gain_db: float) -> None:
    assert level_db("low shelf", 1.0, gain_db=gain_db) == pytest.approx(gain_db, abs=1e-3)
    assert level_db("low shelf", 23_900.0, gain_db=gain_db) == pytest.approx(0.0, abs=1e-3)
    assert level_db("high shelf", 1.0, gain_db=gain_db) == pytest.approx(0.0, abs=1e-3)
    assert level_db("high shelf", 23_900.0, gain_db=gain_db) == pytest.approx(gain_db, abs=1e-3)
    assert level_db("high shelf", 1_000.0, gain_db=gain_db) == pytest.approx(gain_db / 2.0)


@pytest.mark.parametrize("shape", ["low-pass", "high-pass"])
def test_pass_is_three_decibels_down_at_its_corner(shape: Shape) -> None:
    """Butterworth: 10 log10 2 = 3.0103 dB."""
    assert level_db(shape, 1_000.0, q=math.sqrt(0.5)) == pytest.approx(-10.0 * math.log10(2.0))


def test_response_agrees_with_scipy_and_with_what_an_impulse_makes() -> None:
    sections = (section("peak", 300.0, RATE_HZ, 2.0, 5.0), section("high-pass", 90.0, RATE_HZ, 1.3))
    frequencies_hz = np.linspace(0.0, RATE_HZ / 2.0, (1 << 14) + 1)
    found = response(sections, frequencies_hz, RATE_HZ)
    assert found == pytest.approx(sosfreqz(np.array(sections), worN=frequencies_hz, fs=RATE_HZ)[1], abs=1e-9)
    impulse = np.zeros(1 << 15)
    impulse[0] = 1.0
    assert found == pytest.approx(np.fft.rfft(through(sections, impulse)), abs=1e-6)
