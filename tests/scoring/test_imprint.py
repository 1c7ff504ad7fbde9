"""A copy of a sound is known again however it was saved; what an amp was in is no copy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as settings_of
from hypothesis import strategies as st

from optimiser.rehearsal import LEARNING_RIFFS, RehearsalAmp, play_riff
from optimiser.scoring import ArraySound, are_copies, imprint
from optimiser.space import Settings

RATE_HZ = 48_000
DRY = np.concatenate([play_riff(name) for name in LEARNING_RIFFS])


def print_of(samples: np.ndarray, rate_hz: int = RATE_HZ) -> tuple[float, ...]:
    told = imprint(ArraySound(samples if samples.ndim == 2 else samples[:, None], rate_hz))
    assert told is not None
    return told


@settings_of(max_examples=20)
@given(
    gain=st.floats(0.01, 3.0), flip=st.booleans(), before=st.integers(0, 90_000), after=st.integers(0, 90_000),
    channel=st.integers(0, 2),
)  # fmt: skip
def test_gain_polarity_silence_and_silent_channels_make_no_difference(
    gain: float, flip: bool, before: int, after: int, channel: int
) -> None:
    copy = np.zeros((before + DRY.size + after, 3))
    copy[before : before + DRY.size, channel] = (-gain if flip else gain) * DRY
    assert print_of(copy) == pytest.approx(print_of(DRY), rel=1e-9)


@pytest.mark.parametrize("bits", [16, 24])
def test_rounding_and_the_hiss_of_a_loopback_leave_a_copy_a_copy(bits: int) -> None:
    step = 2.0 ** (1 - bits)
    hiss = 1e-4 * np.random.default_rng(1).normal(size=DRY.size)
    assert are_copies(print_of(DRY), print_of(step * np.round(0.3 * DRY / step)))
    assert are_copies(print_of(DRY), print_of(DRY + hiss))


@pytest.mark.parametrize(
    "played",
    [
        np.tanh(0.5 * DRY),
        np.convolve(DRY, [0.5, 0.5]),
        DRY - np.convolve(DRY, np.full(100, 1 / 100), mode="same"),
        DRY[::2],
        np.roll(DRY, 1) + DRY,
        np.random.default_rng(2).normal(size=DRY.size),
    ],
    ids=["a mild clipper", "less treble", "less bass", "faster", "a comb", "noise"],
)
def test_another_sound_is_no_copy(played: np.ndarray) -> None:
    assert not are_copies(print_of(DRY), print_of(played))


def test_the_cleanest_of_the_rehearsal_amp_is_no_copy() -> None:
    amp = RehearsalAmp(day_seed=1)
    riffs = [(name, play_riff(name)) for name in LEARNING_RIFFS]
    settings: Settings = {"gain": 8.0, "stage": "open", "mic": "cap edge", "riffs": list(LEARNING_RIFFS)}
    made = amp.take(settings, riffs, DRY, seed=0, exact=True)
    assert not any(are_copies(print_of(DRY), print_of(side)) for side in (made.reference, made.capture))


@pytest.mark.parametrize("samples", [np.zeros(100), np.zeros(0), np.full(50, 1e300), np.full(50, 1e-300)])
def test_silence_and_numbers_off_the_scale_have_none(samples: np.ndarray) -> None:
    assert imprint(ArraySound(samples[:, None], RATE_HZ)) is None
