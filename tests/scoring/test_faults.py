"""Signs of a recording that went wrong, and what is no such sign."""

import numpy as np
import pytest

from optimiser.scoring.faults import dropout_s, has_flat_tops, hum_hz, is_another_performance

RATE_HZ = 48_000
NOISE = 0.1 * np.random.default_rng(2).normal(size=2 * RATE_HZ)


def blocks(sound: np.ndarray) -> list[np.ndarray]:
    """Uneven blocks, so that what is looked for lies across their edges."""
    return np.split(sound, [1, 2, 59_999, 60_003, 60_100, 60_479, 70_001])


def flat(sound: np.ndarray) -> bool:
    return has_flat_tops(blocks(sound), (float(sound.min()), float(sound.max())))


def test_flat_tops_are_found_on_either_side_and_noise_has_none() -> None:
    assert not flat(NOISE)
    assert flat(np.clip(np.repeat(NOISE, 4), -0.1, 1))
    assert flat(np.clip(np.repeat(NOISE, 4), -1, 0.1))


def test_a_dropout_is_found_with_its_time() -> None:
    lost = NOISE.copy()
    lost[60_000:60_480] = 0
    lost[[59_999, 60_480]] = 0.1
    assert dropout_s(blocks(lost), RATE_HZ, 0.5) == pytest.approx(1.25)


@pytest.mark.parametrize("length", [20, 10_000])
def test_too_short_or_too_long_is_no_dropout(length: int) -> None:
    lost = NOISE.copy()
    lost[60_000 : 60_000 + length] = 0
    assert dropout_s(blocks(lost), RATE_HZ, 0.5) is None


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
def test_hum_is_told_apart(mains_hz: float) -> None:
    time_s = np.arange(RATE_HZ) / RATE_HZ
    hum = sum(0.01 * np.sin(2 * np.pi * mains_hz * harmonic * time_s) for harmonic in range(1, 7))
    assert hum_hz((hum + 0.01 * NOISE[:RATE_HZ]).astype(np.float32)) == mains_hz
    assert hum_hz(NOISE[:RATE_HZ].astype(np.float32)) is None
    assert hum_hz(np.zeros(100, np.float32)) is None


@pytest.mark.parametrize(
    ("residual", "steady", "another"), [(0.96, 1.0, True), (0.87, 0.7, False), (0.6, 0.19, True), (0.4, 0.0, False)]
)
def test_a_pair_holds_together_in_time_or_in_sound(residual: float, steady: float, another: bool) -> None:
    assert is_another_performance(residual, steady) is another
