"""Third octaves of the standard, and that power is neither lost nor counted twice."""

import numpy as np
import pytest

from optimiser.scoring.bands import (
    HIGHEST_BAND,
    LOWEST_BAND,
    band_edges_hz,
    band_matrix,
    band_mids_hz,
    decibels,
    loudness_shares,
)


def test_mids_and_edges_around_a_kilohertz() -> None:
    # IEC 61260-1, base 10
    at = -LOWEST_BAND
    np.testing.assert_allclose(
        band_mids_hz()[at - 3 : at + 3], [501.187, 630.957, 794.328, 1000.0, 1258.925, 1584.893], atol=5e-4
    )
    low_hz, high_hz = band_edges_hz()
    assert (low_hz[at], high_hz[at]) == pytest.approx((891.251, 1122.018), abs=5e-4)
    np.testing.assert_allclose(high_hz[:-1], low_hz[1:])


@pytest.mark.parametrize("frame_size", [1024, 4096])
def test_each_bin_inside_the_bands_is_shared_out_whole(frame_size: int) -> None:
    matrix = band_matrix(frame_size, 48_000)
    assert matrix.shape == (frame_size // 2 + 1, HIGHEST_BAND - LOWEST_BAND + 1)
    hertz = np.arange(frame_size // 2 + 1) * 48_000 / frame_size
    inside = (hertz > 100) & (hertz < 17_000)
    np.testing.assert_allclose(matrix[inside].sum(axis=1), 1.0, atol=1e-5)


def test_loudness_doubles_with_ten_decibels() -> None:
    # Stevens 1955: loudness in sones doubles with 10 dB, so two bands 10 dB apart share it 2 to 1
    np.testing.assert_allclose(loudness_shares(np.array([10.0, 1.0])), [2 / 3, 1 / 3], atol=2e-3)


def test_nothing_has_a_level_too() -> None:
    assert decibels(np.array([0.0]))[0] == -200.0
