"""Loudness against the standard's own signals and an independent meter."""

import numpy as np
import pyebur128
import pytest

from optimiser.scoring import loudness_lkfs

RATE_HZ = 48_000


def tone(levels_dbfs: list[float], durations_s: list[float], hertz: float = 1000.0) -> np.ndarray:
    lengths = [round(duration_s * RATE_HZ) for duration_s in durations_s]
    peak = np.repeat(10.0 ** (np.array(levels_dbfs) / 20), lengths)
    return peak * np.sin(2 * np.pi * hertz * np.arange(peak.size) / RATE_HZ)


def meter(samples: np.ndarray) -> float:
    channels = samples[:, None] if samples.ndim == 1 else samples
    state = pyebur128.R128State(channels.shape[1], RATE_HZ, pyebur128.MeasurementMode.MODE_I)
    state.add_frames(np.ascontiguousarray(channels).ravel(), len(channels))
    return float(pyebur128.get_loudness_global(state))


def test_a_997_hz_sine_of_full_scale_reads_minus_3_01() -> None:
    assert loudness_lkfs(tone([0.0], [5.0], 997.0), RATE_HZ) == pytest.approx(-3.0103, abs=0.001)


# EBU Tech 3341, table 1, cases 1 to 5: stereo sines of 1 kHz; tolerance 0.1 LU
CASES = {
    1: ([-23.0], [20.0], -23.0),
    2: ([-33.0], [20.0], -33.0),
    3: ([-36.0, -23.0, -36.0], [10.0, 60.0, 10.0], -23.0),
    4: ([-72.0, -36.0, -23.0, -36.0, -72.0], [10.0, 10.0, 60.0, 10.0, 10.0], -23.0),
    5: ([-26.0, -20.0, -26.0], [20.0, 20.1, 20.0], -23.0),
}


@pytest.mark.parametrize("case", CASES)
def test_signals_of_tech_3341(case: int) -> None:
    levels_dbfs, durations_s, expected = CASES[case]
    both = np.stack([tone(levels_dbfs, durations_s)] * 2, axis=1)
    read = loudness_lkfs(both, RATE_HZ)
    assert read == pytest.approx(expected, abs=0.1)
    assert read == pytest.approx(meter(both), abs=0.005)


def test_case_6_of_tech_3341_five_channels() -> None:
    levels_dbfs = (-28.0, -28.0, -24.0, -30.0, -30.0)
    channels = np.stack([tone([level], [20.0]) for level in levels_dbfs], axis=1)
    assert loudness_lkfs(channels, RATE_HZ) == pytest.approx(-23.0, abs=0.1)


def test_noise_reads_as_on_the_independent_meter() -> None:
    noise = 0.1 * np.random.default_rng(3).normal(size=(5 * RATE_HZ, 2))
    assert loudness_lkfs(noise, RATE_HZ) == pytest.approx(meter(noise), abs=0.005)


def test_other_rates_read_the_same() -> None:
    time_s = np.arange(5 * 44_100) / 44_100
    assert loudness_lkfs(np.sin(2 * np.pi * 997 * time_s), 44_100) == pytest.approx(-3.01, abs=0.01)


def test_silence_has_no_loudness() -> None:
    assert loudness_lkfs(np.zeros(RATE_HZ), RATE_HZ) == float("-inf")
