"""Figures of separation against closed forms and toy chains: articulation falls with drive and with nothing else."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.audio import Reel
from optimiser.scoring import DYAD_HZ, measure
from optimiser.scoring.articulation import Articulation, dyad_db, notes_over_products_db
from optimiser.scoring.flatness import inside_octave_flatness_db
from optimiser.scoring.frames import LONG, TimeMap, spectra, window
from optimiser.scoring.passages import Located
from tests.benchmarks.articulation_ladder import LADDERS, MOST_POINTS, OTHERS, TONES, articulation
from tests.benchmarks.match.chains import CHAINS
from tests.scoring.tracks import tracked

RATE_HZ = 48_000
TIME_S = np.arange(RATE_HZ) / RATE_HZ


def dyad(level: float) -> np.ndarray:
    return np.asarray(sum(level * np.sin(2 * np.pi * hertz * TIME_S) for hertz in DYAD_HZ))


def test_a_dyad_through_a_cubic_curve() -> None:
    # x + b3 x^3: each note a + 9/4 b3 a^3, the third-order products next to them 3/4 b3 a^3
    b3, a = 0.2, 0.4
    expected = 20 * np.log10((a + 2.25 * b3 * a**3) / (0.75 * b3 * a**3))
    assert notes_over_products_db(dyad(a) + b3 * dyad(a) ** 3) == pytest.approx(expected, abs=1e-6)


def test_a_dyad_clipped_flat_is_a_square_wave_in_its_beat() -> None:
    # two equal notes are their beat times their mean, so the sign's products are 1/3, 1/5 and 1/7 of its notes
    expected = -10 * np.log10(1 / 9 + 1 / 25 + 1 / 49)
    assert expected == pytest.approx(7.66, abs=0.005)
    assert notes_over_products_db(np.tanh(1e3 * dyad(1.0))) == pytest.approx(expected, abs=0.1)


def test_a_square_law_and_hum_put_nothing_next_to_the_notes() -> None:
    hum = np.sum([0.1 * np.sin(2 * np.pi * mains * k * TIME_S) for mains in (50, 60) for k in range(1, 9)], axis=0)
    assert notes_over_products_db(dyad(0.4) + 0.2 * dyad(0.4) ** 2 + hum) > 100


def test_no_dyad_no_figure(reel: Reel) -> None:
    silence = np.zeros(reel.samples.size, np.float32)
    assert dyad_db(tracked(silence), TimeMap(0.0, 0.0), None) is None
    assert dyad_db(tracked(silence[: RATE_HZ * 5]), TimeMap(0.0, 0.0), Located(reel.layout, 0.0)) is None


def test_flatness_of_noise_is_euler_s_constant_and_partials_lie_far_below() -> None:
    # mean log of an exponential variable: minus Euler's constant
    expected_db = -10 * np.log10(np.e) * np.euler_gamma
    assert expected_db == pytest.approx(-2.5068, abs=1e-4)
    noise = np.random.default_rng(1).normal(size=400 * 4096).astype(np.float32)
    starts = np.arange(400) * 4096
    power = np.abs(spectra(noise, starts, window(LONG))) ** 2
    # the few bins of a window and the floor under gaps each raise it by less than a tenth
    assert inside_octave_flatness_db(power).mean() == pytest.approx(expected_db, abs=0.15)
    time_s = np.arange(4 * 4096) / RATE_HZ
    string = sum(np.sin(2 * np.pi * 110 * k * time_s) / k for k in range(1, 40))
    clear = np.abs(spectra(np.asarray(string, dtype=np.float32), starts[:4], window(LONG))) ** 2
    assert inside_octave_flatness_db(clear).mean() < -12


@pytest.mark.parametrize("chain", CHAINS)
def test_more_drive_always_reads_lower_and_the_scale_is_used_without_a_flat_end(reel: Reel, chain: str) -> None:
    sounds = [replace(CHAINS[chain], drive=drive).play(reel.samples) for drive in LADDERS[chain]]
    told = [articulation(sound, sound, reel.layout) for sound in sounds]
    scores = [one.score for one in told]
    assert all(softer - harder > 1.0 for softer, harder in pairwise(scores))
    assert scores[0] > 90
    assert scores[-1] < 15
    dyads_db = [one.dyad_db for one in told if one.dyad_db is not None]
    assert len(dyads_db) == 6
    assert dyads_db == sorted(dyads_db, reverse=True)


def test_a_chain_that_clips_nothing_does_not_change_with_drive(reel: Reel) -> None:
    clean = [
        articulation(sound, sound, reel.layout).score
        for drive in (0.5, 1.5)
        for sound in (replace(CHAINS["hard clipper, bright"], drive=drive).play(reel.samples),)
    ]
    assert clean[0] == pytest.approx(clean[1], abs=0.1)


@pytest.mark.parametrize(("chain", "drive"), [*((chain, 3.0) for chain in CHAINS), ("soft clipper", 40.0)])
def test_tone_level_polarity_delay_and_faint_hiss_hardly_move_it(reel: Reel, chain: str, drive: float) -> None:
    sound = replace(CHAINS[chain], drive=drive).play(reel.samples)
    plain = articulation(sound, sound, reel.layout).score
    for name, change in {**TONES, **OTHERS}.items():
        moved = articulation(sound, change(sound), reel.layout).score - plain
        assert abs(moved) <= MOST_POINTS, name


def test_a_capture_with_more_drive_keeps_less(reel: Reel) -> None:
    chain = CHAINS["two stages, dark"]
    reference = chain.play(reel.samples)
    kept = [
        measure(reference, chain.driven(times).play(reel.samples, 2), RATE_HZ, layout=reel.layout).articulation_kept
        for times in (0.8, 1.0, 1.25, 2.5)
    ]
    assert kept[0] == 1.0
    assert kept[1] == pytest.approx(1.0, abs=0.02)
    assert kept[1] > kept[2] > kept[3]


@given(st.floats(-30, 0), st.floats(-10, 60), st.floats(-20, 20))
def test_every_figure_counts_everywhere(fill: float, notes: float, attack: float) -> None:
    here = Articulation(fill, notes, attack).score
    assert 0 < here < 100
    assert Articulation(fill + 0.5, notes, attack).score < here
    assert Articulation(fill, notes - 0.5, attack).score < here
    assert Articulation(fill, notes, attack - 0.5).score < here


def test_the_score_is_the_geometric_mean_of_what_is_known() -> None:
    assert Articulation(None, 20.0, None).score == pytest.approx(50)
    assert Articulation(-12.5, 20.0, 2.0).score == pytest.approx(50)
    assert Articulation(-30.0, 60.0, 20.0).score == pytest.approx(100, abs=0.1)
    # closed form of the logistic curve: four widths of odds below the half
    assert Articulation(None, 4.0, None).score == pytest.approx(100 / (1 + np.exp(4)))
    assert Articulation(None, None, None).score == 0
