"""Fine structure counts where it is heard, and level, tone and faint hiss do not."""

import numpy as np
import pytest

from optimiser.scoring.bands import BAND_COUNT
from optimiser.scoring.texture import hearing_threshold_db, texture_squares

RNG = np.random.default_rng(3)
FRAMES = 2000
LIVELY = (1e-3 * 10 ** (RNG.normal(size=(FRAMES, BAND_COUNT)).cumsum(axis=0) / 40 % 2)).astype(np.float32)
SILENT = np.zeros(BAND_COUNT)
ALL = np.ones(FRAMES, dtype=bool)


def texture_db(reference: np.ndarray, capture: np.ndarray, noise: np.ndarray = SILENT) -> float:
    power = float(reference.sum(axis=1).mean())
    squares, weights = texture_squares(
        (reference.astype(np.float32), capture.astype(np.float32)), power, noise.astype(np.float64), ALL
    )
    return float(np.sqrt(squares.sum() / weights.sum()))


@pytest.mark.parametrize(
    ("frequency_hz", "threshold_db"),
    # ISO 389-7, free field, from memory; the formula is known to stay within a few dB of it up to 4 kHz
    [(125, 22.1), (250, 11.4), (500, 4.4), (1000, 2.4), (2000, -1.3), (3150, -5.8), (4000, -5.4)],
)
def test_threshold_of_hearing_lies_near_the_standard_s(frequency_hz: float, threshold_db: float) -> None:
    assert hearing_threshold_db(np.array(frequency_hz)) == pytest.approx(threshold_db, abs=4.0)


def test_a_change_of_level_or_of_a_loud_band_is_none() -> None:
    assert texture_db(LIVELY, LIVELY) == 0
    assert texture_db(LIVELY, LIVELY * 2) < 0.02
    assert texture_db(LIVELY, LIVELY * 10 ** (RNG.uniform(-0.4, 0.4, BAND_COUNT))) < 0.1


def test_gain_that_moves_as_a_whole_is_none_and_bands_that_move_apart_are_some() -> None:
    slow = 10 ** (np.sin(np.arange(FRAMES) / 100)[:, None] * 0.3)
    assert texture_db(LIVELY, LIVELY * slow) < 0.05
    apart = np.where(np.arange(BAND_COUNT) % 2, slow, 1 / slow)
    assert texture_db(LIVELY, LIVELY * apart) > 1.0


def test_hiss_below_hearing_or_ten_decibels_above_the_amp_s_own_is_hardly_any() -> None:
    gaps = LIVELY * (RNG.uniform(size=LIVELY.shape) > 0.5)
    faint, loud = (np.full(BAND_COUNT, level) * gaps.sum(axis=1).mean() for level in (1e-8, 1e-4))
    assert texture_db(gaps, gaps + faint) < 0.1
    assert texture_db(gaps + loud / 10, gaps + loud, loud / 10) < 0.35 * texture_db(gaps, gaps + loud)


def test_what_is_hardly_heard_does_not_count() -> None:
    quiet = LIVELY.copy()
    quiet[1000:] *= 1e-9
    squares, weights = texture_squares((quiet, quiet), float(LIVELY.sum(axis=1).mean()), SILENT, ALL)
    assert not weights[1010:].any()
    assert not squares.any()
