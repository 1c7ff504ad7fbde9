"""What no filter explains, against closed forms."""

import numpy as np
import pytest

from optimiser.scoring.alignment import Alignment
from optimiser.scoring.coherence import Sums, error_to_signal, incoherent_share
from optimiser.scoring.evidence import gather
from optimiser.scoring.frames import TimeMap
from tests.scoring.tracks import tracked

NOISE = np.random.default_rng(11).normal(size=20 * 48_000)
OTHER = np.random.default_rng(12).normal(size=NOISE.size)


def sums(reference: np.ndarray, capture: np.ndarray) -> Sums:
    start = Alignment(TimeMap(0.0, 0.0), 1.0, None)
    return gather(tracked(reference), tracked(capture), start).cross.summed()


def test_noise_20_db_down_leaves_a_share_of_a_hundred_and_first() -> None:
    # coherence 1 / (1 + 0.01), Carter 1987
    assert incoherent_share(*sums(NOISE, NOISE + 0.1 * OTHER)) == pytest.approx(1 - 1 / 1.01, rel=0.05)


def test_unrelated_noise_is_incoherent_but_for_the_bias_of_few_frames() -> None:
    # 935 frames, three quarters shared with the next: about one in 490 of independent ones, Carter 1987
    assert incoherent_share(*sums(NOISE, OTHER)) == pytest.approx(1 - 1 / 490, abs=2e-3)


@pytest.mark.parametrize("gain", [0.9, -1.0, 3.0])
def test_gain_and_polarity_leave_no_error(gain: float) -> None:
    assert error_to_signal(*sums(NOISE, gain * NOISE)) == pytest.approx(0.0, abs=1e-5)
    assert incoherent_share(*sums(NOISE, gain * NOISE)) == pytest.approx(0.0, abs=1e-5)


def test_error_of_noise_20_db_down() -> None:
    # ESR of 0.01 at unit gain (Wright and Valimaki 2020) is 0.01 / 1.01 at the best one
    assert error_to_signal(*sums(NOISE, NOISE + 0.1 * OTHER)) == pytest.approx(0.01 / 1.01, rel=0.05)


def test_a_filter_is_explained_and_a_bent_curve_is_not() -> None:
    filtered = np.convolve(NOISE, [1.0, 0.7, -0.3])[: NOISE.size]
    assert incoherent_share(*sums(NOISE, filtered)) < 1e-4
    # x + x^3 / 3 of Gaussian noise: the part that is linear in x is 2 x, the rest has a share of 1/7 of the power
    # (Hermite: x^3 = He3 + 3 x, so 2 x + He3 / 3, powers 4 and 6 / 9)
    assert incoherent_share(*sums(NOISE, NOISE + NOISE**3 / 3)) == pytest.approx((6 / 9) / (4 + 6 / 9), rel=0.05)
