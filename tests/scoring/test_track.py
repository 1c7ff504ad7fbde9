"""A track gives the same samples however it is asked, and however long it is."""

import numpy as np
import soxr
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.scoring.recording import ArraySound
from optimiser.scoring.track import Track, track_of

RATE_HZ = 48_000
SHORT = np.random.default_rng(1).normal(size=(3 * RATE_HZ, 2)) * 0.1
LONG = np.random.default_rng(2).normal(size=(70 * RATE_HZ, 1)) * 0.1


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(0, LONG.size), st.integers(0, 200_000)), min_size=1, max_size=8))
def test_any_stretch_in_any_order(stretches: list[tuple[int, int]]) -> None:
    track = track_of(ArraySound(LONG, RATE_HZ), 0, 0.0)
    for first, length in stretches:
        last = min(LONG.size, first + length)
        np.testing.assert_array_equal(track.piece(first, last), LONG[first:last, 0].astype(np.float32))


def test_offset_and_channel() -> None:
    track = track_of(ArraySound(SHORT + 0.25, RATE_HZ), 1, 0.25)
    np.testing.assert_allclose(track.piece(0, track.size), SHORT[:, 1], atol=1e-7)


def test_other_rates_come_out_as_from_the_resampler_at_once() -> None:
    for rate_hz in (44_100, 96_000):
        track = track_of(ArraySound(SHORT, rate_hz), 0, 0.0)
        at_once = soxr.resample(SHORT[:, 0].astype(np.float32), rate_hz, RATE_HZ)
        assert abs(track.size - at_once.size) <= 1
        whole = np.concatenate(list(track.blocks()))
        np.testing.assert_allclose(whole[: at_once.size - 1], at_once[: whole.size][: at_once.size - 1], atol=1e-5)


def test_a_long_track_is_read_once_from_start_to_end() -> None:
    opened = 0

    def blocks():  # type: ignore[no-untyped-def]
        nonlocal opened
        opened += 1
        yield from np.array_split(LONG[:, 0].astype(np.float32), 50)

    track = Track(blocks, LONG.size)
    for first in range(0, LONG.size - 4096, 1024 * 50):
        track.piece(first, first + 4096)
    assert opened == 1
    track.piece(0, 10)
    assert opened == 2
