"""Distortion read off a sweep is that of a sine through the same curve."""

import numpy as np
import pytest

from optimiser.audio import build_reel
from optimiser.rehearsal import play_riff
from optimiser.scoring import measure
from optimiser.scoring.sweep import probed_frequencies_hz, sweep_pace_s, thd_db

RATE_HZ = 48_000


def reel_with_sweep() -> tuple[np.ndarray, float, object]:
    reel = build_reel({"run": play_riff("run")}, ("run",), "proof", RATE_HZ, sweep=True)
    return reel.samples, reel.layout.of_kind("sweep")[0].start_s, reel.layout


def the_sweep() -> np.ndarray:
    samples, start_s, _ = reel_with_sweep()
    return samples[round(start_s * RATE_HZ) :][: 4 * RATE_HZ]


@pytest.mark.parametrize("cubic", [0.2, 0.05])
def test_a_cubic_curve_has_the_third_harmonic_of_a_sine_through_it(cubic: float) -> None:
    # a sine of amplitude a through x + c x^3: fundamental a + 3 c a^3 / 4, third harmonic c a^3 / 4
    a = 0.5
    expected_db = 20 * np.log10((cubic * a**3 / 4) / (a + 3 * cubic * a**3 / 4))
    sweep = the_sweep()
    np.testing.assert_allclose(thd_db(sweep + cubic * sweep**3), expected_db, atol=0.3)


def test_a_square_curve_has_the_second_harmonic() -> None:
    # x + c x^2: fundamental a, second harmonic c a^2 / 2
    sweep = the_sweep()
    np.testing.assert_allclose(thd_db(sweep + 0.1 * sweep**2), 20 * np.log10(0.1 * 0.5 / 2), atol=0.3)


def test_a_shaper_of_chebyshev_polynomials_has_their_weights_as_harmonics() -> None:
    # T_n(cos x) = cos n x, so that weights .1 .05 .02 .01 of orders 2 to 5 are a distortion of .114018
    shaped = np.polynomial.chebyshev.chebval(2.0 * the_sweep(), [0.0, 1.0, 0.1, 0.05, 0.02, 0.01])
    told_db = thd_db(np.asarray(shaped, dtype=np.float64))
    np.testing.assert_allclose(10 ** (told_db / 20), 0.114018, rtol=0.03)


def test_a_square_wave_has_a_third_and_a_fifth_of_its_fundamental() -> None:
    # Fourier series of a square wave; all of its harmonics together are sqrt(pi^2 / 8 - 1) = .48343
    low = probed_frequencies_hz() < 500
    np.testing.assert_allclose(10 ** (thd_db(np.sign(the_sweep()))[low] / 20), np.hypot(1 / 3, 1 / 5), rtol=0.05)


def test_the_harmonics_come_ahead_by_what_the_paper_says() -> None:
    # Farina 2000: L ln N, with 4 s from 20 Hz to 20 kHz
    assert sweep_pace_s() * np.log([2, 3]) == pytest.approx([0.40137, 0.63616], abs=1e-5)


def test_a_filter_is_no_distortion_and_moves_none() -> None:
    sweep = the_sweep()
    assert thd_db(sweep).max() < -60
    low_passed = np.convolve(sweep + 0.2 * sweep**3, np.ones(4) / 4)[: sweep.size]
    hertz = probed_frequencies_hz()

    def gain(at_hz: np.ndarray) -> np.ndarray:
        turns = np.exp(-2j * np.pi * at_hz[:, None] * np.arange(4) / RATE_HZ)
        return np.asarray(np.abs(turns.sum(axis=1)) / 4)

    plain = (0.2 * 0.5**3 / 4) / (0.5 + 3 * 0.2 * 0.5**3 / 4)
    expected_db = 20 * np.log10(plain * gain(3 * hertz) / gain(hertz))
    np.testing.assert_allclose(thd_db(low_passed), expected_db, atol=0.4)


def test_a_take_of_a_reel_with_a_sweep_tells_both_sides() -> None:
    dry, _, layout = reel_with_sweep()
    hiss = 1e-5 * np.random.default_rng(1).normal(size=(2, dry.size))
    told = measure(dry + 0.1 * dry**3 + hiss[0], dry + 0.2 * dry**3 + hiss[1], RATE_HZ, layout=layout)  # type: ignore[arg-type]
    assert len(told.sweep) == probed_frequencies_hz().size
    for point in told.sweep:
        assert point.capture_thd_db - point.reference_thd_db == pytest.approx(5.86, abs=0.3)
    assert measure(dry, dry, RATE_HZ).sweep == ()


def test_nobody_listens_to_the_sweep_or_the_dyad() -> None:
    dry, _, layout = reel_with_sweep()
    hiss = 1e-5 * np.random.default_rng(2).normal(size=(2, dry.size))
    louder = dry.copy()
    for passage in layout.of_kind("sweep", "dyad"):  # type: ignore[attr-defined]
        louder[round(passage.start_s * RATE_HZ) : round(passage.end_s * RATE_HZ)] *= 1.6
    told = measure(dry + hiss[0], louder + hiss[1], RATE_HZ, layout=layout)  # type: ignore[arg-type]
    assert told.match > 99.5
    assert told.gain_db == pytest.approx(0.0, abs=0.05)
