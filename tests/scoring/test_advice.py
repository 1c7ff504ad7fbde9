"""Words follow the figures."""

import dataclasses

import numpy as np
import pytest

from optimiser.scoring.advice import Findings, advise, tone_words
from optimiser.scoring.bands import BAND_COUNT, band_mids_hz
from optimiser.scoring.figures import Figures
from optimiser.scoring.match_score import parts_of

EVEN = np.full(BAND_COUNT, 1 / BAND_COUNT)
NONE = Figures(0, 0, 0, 0, 0, 0, 0)
FINDINGS = Findings(np.zeros(BAND_COUNT), EVEN, 1.0, 0.0, 0.0, 0.0, 0.0)


def said(figures: Figures, **findings: float) -> tuple[str, ...]:
    return advise(parts_of(figures), dataclasses.replace(FINDINGS, **findings))  # type: ignore[arg-type]


def between(low_hz: float, high_hz: float, gain_db: float) -> np.ndarray:
    return np.where((band_mids_hz() > low_hz) & (band_mids_hz() < high_hz), gain_db, 0.0)


@pytest.mark.parametrize(
    ("difference_db", "words"),
    [
        (0.8 * np.log2(band_mids_hz() / 1000), "Too bright overall, by 0.8 dB per octave."),
        (-2.0 * np.log2(band_mids_hz() / 1000), "Too dark overall, by 2.0 dB per octave."),
        (between(900, 1100, -5.0), "Dip at 1000 Hz, by up to 5.0 dB."),
        (between(900, 1100, 5.0), "Peak at 1000 Hz, by up to 5.0 dB."),
        (between(140, 300, -3.0), "Thin, 141-282 Hz, by up to 3.0 dB."),
        (between(2200, 4200, 3.0), "Harsh, 2239-4467 Hz, by up to 3.0 dB."),
        (between(600, 1500, -2.0), "Recessed, 562-1413 Hz, by up to 2.0 dB."),
    ],
)
def test_tone_in_the_words_of_the_trade(difference_db: np.ndarray, words: str) -> None:
    assert tone_words(difference_db, EVEN)[0] == words


def test_one_and_a_half_to_one() -> None:
    assert said(dataclasses.replace(NONE, dynamics=2.0), slope=0.78) == (
        "Too compressed: 10 dB of playing becomes 7.8 dB.",
    )
    assert said(dataclasses.replace(NONE, dynamics=2.0), slope=1.2)[0].startswith("Too lively")


def test_an_attack_that_changes_both_ways_is_uneven() -> None:
    figures = dataclasses.replace(NONE, attack=3.0)
    assert said(figures, attack_db=0.2)[0].startswith("Pick attack uneven")
    assert said(figures, attack_db=-3.0) == ("Pick attack softened by 3.0 dB.",)


def test_distortion_by_the_sign_of_the_fill_and_said_once() -> None:
    both = dataclasses.replace(NONE, residual=0.2, texture=2.0)
    assert said(both, fill_db=1.0) == ("Too distorted.",)
    assert said(both, fill_db=-1.0) == ("Not distorted enough.",)
    assert said(both, fill_db=0.0) == ("The distortion has a different character.",)


def test_the_costliest_comes_first_and_small_things_are_not_mentioned() -> None:
    figures = dataclasses.replace(NONE, noise=20.0, attack=2.0, decay=4.9)
    assert said(figures, noise_db=20.0, attack_db=-2.0, tail_db=19.0) == (
        "Noisier by 20 dB in the rests.",
        "Pick attack softened by 2.0 dB.",
    )
    assert said(NONE) == ()
    assert said(dataclasses.replace(NONE, decay=6.0), tail_db=19.0) == ("Gate-like decay: tails lie 19 dB down.",)
