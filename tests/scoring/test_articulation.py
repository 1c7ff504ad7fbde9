"""Figures of separation against closed forms and a toy amp."""

from collections.abc import Callable

import numpy as np
import pytest

from optimiser.audio import Reel
from optimiser.scoring import DYAD_HZ
from optimiser.scoring.articulation import Articulation, dyad_db, harmonics_over_products_db
from optimiser.scoring.flatness import NOISE_FLATNESS_DB, inside_octave_flatness_db
from optimiser.scoring.frames import LONG, TimeMap, spectra, window
from optimiser.scoring.passages import Located
from optimiser.scoring.recording import array_sound
from optimiser.scoring.track import Track, track_of

RATE_HZ = 48_000


def tracked(sound: np.ndarray) -> Track:
    return track_of(array_sound(sound, 48_000, "sound"), 0, 0.0)


def test_a_dyad_through_a_cubic_curve() -> None:
    # x + 0.2 x^3 with 0.4 of each note: in closed form 29.9896 dB of harmonics over intermodulation
    time_s = np.arange(RATE_HZ) / RATE_HZ
    both = np.sum([0.4 * np.sin(2 * np.pi * hertz * time_s) for hertz in DYAD_HZ], axis=0)
    b3, a = 0.2, 0.4
    fundamental = a * (1 + 0.75 * b3 * a**2 + 1.5 * b3 * a**2)
    harmonics = 2 * fundamental**2 + 2 * (b3 * a**3 / 4) ** 2
    products = 4 * (0.75 * b3 * a**3) ** 2
    expected = 10 * np.log10(harmonics / products)
    assert expected == pytest.approx(29.9896, abs=1e-4)
    assert harmonics_over_products_db(both + b3 * both**3) == pytest.approx(expected, abs=1e-6)


def test_more_drive_on_the_dyad_reads_lower(reel: Reel, amp: Callable[..., np.ndarray]) -> None:
    located, same = Located(reel.layout, 0.0), TimeMap(0.0, 0.0)
    heard = [dyad_db(tracked(amp(reel.samples, drive)), same, located) for drive in (0.5, 1.5, 3, 6, 12, 40)]
    ratios = [ratio for ratio in heard if ratio is not None]
    assert len(ratios) == 6
    assert ratios == sorted(ratios, reverse=True)
    assert ratios[0] > 35
    assert ratios[-1] < 8


def test_no_dyad_no_figure(reel: Reel) -> None:
    silence = np.zeros(reel.samples.size, np.float32)
    assert dyad_db(tracked(silence), TimeMap(0.0, 0.0), None) is None
    assert dyad_db(tracked(silence[: RATE_HZ * 5]), TimeMap(0.0, 0.0), Located(reel.layout, 0.0)) is None


def test_flatness_of_noise_is_euler_s_constant_and_partials_lie_far_below() -> None:
    # mean log of an exponential variable: minus Euler's constant
    assert pytest.approx(-10 * np.log10(np.e) * np.euler_gamma, abs=1e-4) == NOISE_FLATNESS_DB
    noise = np.random.default_rng(1).normal(size=400 * 4096).astype(np.float32)
    starts = np.arange(400) * 4096
    power = np.abs(spectra(noise, starts, window(LONG))) ** 2
    # the few bins of the lowest octave and the floor under gaps each raise it by less than a tenth
    assert inside_octave_flatness_db(power).mean() == pytest.approx(NOISE_FLATNESS_DB, abs=0.15)
    time_s = np.arange(4 * 4096) / RATE_HZ
    string = sum(np.sin(2 * np.pi * 110 * k * time_s) / k for k in range(1, 40))
    clear = np.abs(spectra(np.asarray(string, dtype=np.float32), starts[:4], window(LONG))) ** 2
    assert inside_octave_flatness_db(clear).mean() < -12


def test_the_score_is_the_mean_of_what_is_known() -> None:
    assert Articulation(-30.0, 50.0, 9.0).score == 100
    assert Articulation(0.0, -3.0, -9.0).score == 0
    assert Articulation(None, 20.0, None).score == 50
    assert Articulation(None, None, None).score == 0
