"""The true-peak signals of EBU Tech 3341, table 1, cases 15 to 19: sines whose samples miss their tops."""

import numpy as np
import pyebur128
import pytest

from optimiser.scoring.true_peak import true_peak_dbtp

RATE_HZ = 48_000


def read(sound: np.ndarray) -> float:
    return true_peak_dbtp(np.split(sound, [7, 20_000, 20_011]), float(np.max(np.abs(sound))))


@pytest.mark.parametrize(
    ("divisor", "phase_deg", "amplitude", "expected_dbtp"),
    [(4, 0.0, 0.5, -6.0), (4, 45.0, 0.5, -6.0), (6, 60.0, 0.5, -6.0), (8, 67.5, 0.5, -6.0), (4, 45.0, 1.41, 3.0)],
)
def test_signals_of_tech_3341(divisor: int, phase_deg: float, amplitude: float, expected_dbtp: float) -> None:
    sound = amplitude * np.sin(2 * np.pi * np.arange(RATE_HZ) / divisor + np.radians(phase_deg))
    assert expected_dbtp - 0.4 <= read(sound) <= expected_dbtp + 0.2


def test_clipped_noise_reads_as_on_the_independent_meter() -> None:
    rng = np.random.default_rng(5)
    coloured = np.convolve(rng.normal(size=2 * RATE_HZ), np.hanning(12), "same")
    sound = np.clip(coloured / 4, -0.5, 0.5)
    meter = pyebur128.R128State(1, RATE_HZ, pyebur128.MeasurementMode.MODE_TRUE_PEAK)
    meter.add_frames(sound, sound.size)
    # its filter is shorter and reads a little low; meters may differ by 0.6 dB (EBU Tech 3341)
    assert read(sound) == pytest.approx(20 * np.log10(pyebur128.get_true_peak(meter, 0)), abs=0.2)


def test_never_below_the_sample_peak() -> None:
    click = np.zeros(100)
    click[50] = 0.25
    assert read(click) == pytest.approx(20 * np.log10(0.25))
