"""Words follow the figures."""

import dataclasses

import numpy as np
import pytest

from optimiser.scoring.advice import Findings, advise, tone_words
from optimiser.scoring.bands import BAND_COUNT, band_mids_hz
from optimiser.scoring.causes import LowLevel
from optimiser.scoring.figures import Figures
from optimiser.scoring.match_score import parts_of

EVEN = np.full(BAND_COUNT, 1 / BAND_COUNT)
NONE = Figures(0, 0, 0, 0, 0, 0, 0)
FINDINGS = Findings(np.zeros(BAND_COUNT), EVEN, 1.0, 0.0, 0.0, None, 0.0, 0.0, LowLevel(0.0, 0.0, 0.0), "distortion")


def said(figures: Figures, **findings: object) -> tuple[str, ...]:
    told = advise(parts_of(figures), dataclasses.replace(FINDINGS, **findings))  # type: ignore[arg-type]
    return tuple(advice.sentence for advice in told)


def between(low_hz: float, high_hz: float, gain_db: float) -> np.ndarray:
    return np.where((band_mids_hz() > low_hz) & (band_mids_hz() < high_hz), gain_db, 0.0)


@pytest.mark.parametrize(
    ("difference_db", "words"),
    [
        (0.8 * np.log2(band_mids_hz() / 1000), "Too bright overall, by 0.8 dB per octave."),
        (-2.0 * np.log2(band_mids_hz() / 1000), "Too dark overall, by 2.0 dB per octave."),
        (between(900, 1100, -5.0), "Dip at 1000 Hz, by up to 5.0 dB."),
        (between(900, 1100, 5.0), "Peak at 1000 Hz, by up to 5.0 dB."),
        (between(140, 300, -3.0), "Thin, 140-280 Hz, by up to 3.0 dB."),
        (between(2200, 4200, 3.0), "Harsh, 2200-4500 Hz, by up to 3.0 dB."),
        (between(600, 1500, -2.0), "Recessed, 560-1400 Hz, by up to 2.0 dB."),
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
    assert said(figures, attack_db=-0.9)[0].startswith("Pick attack uneven")
    assert said(figures, attack_db=-3.0) == ("Pick attack softened by 3.0 dB.",)


def test_distortion_by_what_it_fills_and_how_it_squeezes() -> None:
    structure = dataclasses.replace(NONE, residual=0.2, texture=2.0)
    more = ("More distorted than the amp: lower gain or stage first; the gaps between partials are 1.0 dB fuller.",)
    assert said(structure, fill_db=1.0, slope=0.9) == more
    assert said(structure, fill_db=1.0, dyad_db=-3.0) == more
    less = ("Less distorted than the amp: raise gain or stage first; the gaps between partials are 1.0 dB emptier.",)
    assert said(structure, fill_db=-1.0) == less
    assert said(structure, fill_db=1.0)[0].startswith("The distortion has a different character")


@pytest.mark.parametrize(
    ("fill_db", "slope", "first"),
    [
        (0.1, 0.9, "More distorted than the amp: lower gain or stage first;"),
        (-0.1, 1.0, "Less distorted than the amp: raise gain or stage first;"),
        (0.04, 1.0, "The distortion has a different character than the amp's;"),
    ],
)
def test_no_size_is_told_that_nobody_would_hear(fill_db: float, slope: float, first: str) -> None:
    """Gaps of a tenth of a decibel are none; the fault is named for its eight steps of fine structure."""
    structure = dataclasses.replace(NONE, residual=0.2, texture=2.0)
    size = "the fine structure of notes is 8.0 just-noticeable steps apart."
    assert said(structure, fill_db=fill_db, slope=slope) == (f"{first} {size}",)


def test_fine_structure_counts_for_the_fault_that_left_it() -> None:
    figures = dataclasses.replace(NONE, texture=1.0, tone=1.0, attack=3.0, noise=6.0)
    for cause, first in (("tone", "Harsh"), ("attack", "Pick attack"), ("noise", "Noisier"), ("distortion", "More")):
        told = said(
            figures, cause=cause, tone_db=between(2200, 4200, 3.0), attack_db=-3.0, noise_db=6.0, fill_db=1.0, slope=0.9
        )
        assert told[0].startswith(first)
        assert cause == "distortion" or not any("distort" in sentence for sentence in told)


def test_what_happens_at_low_level() -> None:
    figures = dataclasses.replace(NONE, texture=1.0)
    low = LowLevel(0.9, 19.0, 12.0)
    assert said(figures, cause="gate", low=low) == ("Gate-like decay: tails lie 19 dB down.",)
    assert said(figures, cause="ringing", low=low) == (
        "Rings on: where notes have ended, the capture lies 12 dB above the amp.",
    )


def test_tails_that_die_early_say_by_how_much_without_a_gate() -> None:
    assert said(dataclasses.replace(NONE, decay=7.0), tail_db=7.0) == ("Gate-like decay: tails lie 7 dB down.",)


def test_the_costliest_comes_first_and_small_things_are_not_mentioned() -> None:
    figures = dataclasses.replace(NONE, noise=20.0, attack=2.0, decay=4.9, texture=0.2, tone=0.4, dynamics=0.6)
    assert said(figures, noise_db=20.0, attack_db=-2.0) == (
        "Noisier by 20 dB in the rests.",
        "Pick attack softened by 2.0 dB.",
    )
    assert said(NONE) == ()


def test_each_sentence_names_the_part_that_it_rests_on() -> None:
    told = advise(parts_of(dataclasses.replace(NONE, noise=20.0, attack=2.0)), FINDINGS)
    assert [advice.part for advice in told] == ["noise", "attack"]
