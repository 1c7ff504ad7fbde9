"""Curves of the standards."""

import numpy as np
import pytest

from optimiser.scoring.weighting import a_power, a_weighting_db, k_power

# IEC 61672-1, table of A weighting, 10 Hz to 20 kHz in third octaves
A_TABLE_DB = [
    -70.4, -63.4, -56.7, -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1, -13.4, -10.9, -8.6, -6.6, -4.8,
    -3.2, -1.9, -0.8, 0.0, 0.6, 1.0, 1.2, 1.3, 1.2, 1.0, 0.5, -0.1, -1.1, -2.5, -4.3, -6.6, -9.3,
]  # fmt: skip


def test_a_weighting_is_the_standard_s_table_at_exact_frequencies() -> None:
    exact_hz = 1000.0 * 10.0 ** (np.arange(-20, 14) / 10.0)
    np.testing.assert_array_equal(np.round(a_weighting_db(exact_hz), 1) + 0.0, A_TABLE_DB)


def test_a_power_is_zero_at_zero_and_one_at_a_kilohertz() -> None:
    np.testing.assert_allclose(a_power(np.array([0.0, 1000.0])), [0.0, 1.0])


def test_k_weighting_lifts_997_hz_by_the_offset_of_the_standard() -> None:
    # BS.1770: a 997 Hz sine of full scale reads -3.01 LKFS with an offset of -0.691 dB
    assert 10 * np.log10(k_power(np.array([997.0])))[0] == pytest.approx(0.691, abs=0.001)


def test_k_weighting_is_the_cascade_that_scipy_computes() -> None:
    from scipy.signal import sosfreqz

    from optimiser.scoring.weighting import K_HIGH_PASS, K_SHELF

    hertz = np.geomspace(20, 20_000, 200)
    sections = [[*K_SHELF[0], *K_SHELF[1]], [*K_HIGH_PASS[0], *K_HIGH_PASS[1]]]
    _, response = sosfreqz(sections, worN=hertz, fs=48_000)
    np.testing.assert_allclose(k_power(hertz), np.abs(response) ** 2, rtol=1e-9)
