"""Figures known from elsewhere, against closed forms and an independent meter."""

import numpy as np
import pyebur128
import pytest

from optimiser.scoring.alignment import Alignment
from optimiser.scoring.evidence import gather
from optimiser.scoring.familiar import Familiar, familiar_figures
from optimiser.scoring.frames import TimeMap
from tests.scoring.tracks import tracked

RATE_HZ = 48_000
NOISE = np.random.default_rng(21).normal(size=15 * RATE_HZ) * 0.1
OTHER = np.random.default_rng(22).normal(size=NOISE.size) * 0.1


def figures(reference: np.ndarray, capture: np.ndarray) -> Familiar:
    real, copy = tracked(reference), tracked(capture)
    return familiar_figures(real, copy, gather(real, copy, Alignment(TimeMap(0.0, 0.0), 1.0, None)), (-3.0, -4.0))


def test_noise_20_db_down_nulls_to_20_db() -> None:
    # ESR 0.01 at unit gain (Wright and Valimaki 2020), 0.01 / 1.01 at the best one
    told = figures(NOISE, NOISE + 0.1 * OTHER)
    assert told.esr == pytest.approx(0.01 / 1.01, rel=0.05)
    assert told.null_depth_db == pytest.approx(20.04, abs=0.2)


def test_the_same_at_another_level_leaves_nothing() -> None:
    told = figures(NOISE, 0.5 * NOISE)
    assert told.null_depth_db > 60
    assert told.mr_stft < 1e-3
    assert told.loudness_difference_lu == pytest.approx(-6.02, abs=0.01)
    assert (told.reference_true_peak_dbtp, told.true_peak_dbtp) == (-3.0, -4.0)


def test_unrelated_noise_is_a_spectral_convergence_of_about_three_quarters_and_a_log_distance() -> None:
    """Magnitudes of Gaussian noise are Rayleigh: E (a - b)^2 / E a^2 = 2 - pi / 2, and the mean of |ln a - ln b|, half
    a logistic variable, is ln 2."""
    assert figures(NOISE, OTHER).mr_stft == pytest.approx(np.sqrt(2 - np.pi / 2) + np.log(2), abs=0.01)


def test_loudness_of_playing_with_rests_differs_as_on_the_independent_meter() -> None:
    swell = np.repeat(10 ** (np.random.default_rng(4).uniform(-2, 0, 75)), RATE_HZ // 5)
    bent = np.tanh(4 * swell * NOISE)

    def meter(sound: np.ndarray) -> float:
        state = pyebur128.R128State(1, RATE_HZ, pyebur128.MeasurementMode.MODE_I)
        state.add_frames(sound, sound.size)
        return float(pyebur128.get_loudness_global(state))

    told = figures(swell * NOISE, bent)
    assert told.loudness_difference_lu == pytest.approx(meter(bent) - meter(swell * NOISE), abs=0.2)
