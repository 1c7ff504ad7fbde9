"""Layouts and recordings that cannot be are refused when they are made."""

import numpy as np
import pytest

from optimiser.errors import BadInput
from optimiser.scoring import ArraySound, Passage, ReelLayout


@pytest.mark.parametrize(
    ("kind", "start_s", "end_s"),
    [
        ("solo", 0.0, 1.0),
        ("riff", -0.1, 1.0),
        ("riff", 1.0, 1.0),
        ("riff", 0.0, float("nan")),
        ("riff", 0.0, float("inf")),
    ],
)
def test_passages_that_cannot_be(kind: str, start_s: float, end_s: float) -> None:
    with pytest.raises(BadInput):
        Passage("chugs", kind, start_s, end_s)  # type: ignore[arg-type]


def test_a_layout_is_in_order_without_overlap() -> None:
    first, second = Passage("a", "riff", 0.0, 1.0), Passage("b", "rest", 1.0, 2.5)
    assert ReelLayout((first, second)).duration_s == 2.5
    assert ReelLayout((first, second)).of_kind("rest") == (second,)
    for passages in ((), (second, first), (first, Passage("c", "riff", 0.9, 2.0))):
        with pytest.raises(BadInput):
            ReelLayout(passages)


def test_an_array_is_gone_through_in_blocks_as_often_as_needed() -> None:
    samples = np.random.default_rng(1).normal(size=(150_000, 2))
    sound = ArraySound(samples, 48_000)
    for _ in range(2):
        np.testing.assert_array_equal(np.concatenate(list(sound.blocks())), samples)
    assert (sound.frames, sound.channels, sound.rate_hz) == (150_000, 2, 48_000)
