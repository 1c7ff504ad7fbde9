"""Layouts and recordings that cannot be are refused when they are made."""

import numpy as np
import pytest

from optimiser.errors import BadInput, InvalidRecording
from optimiser.scoring import Passage, Recording, ReelLayout


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


def test_a_recording_is_one_finite_channel_that_nobody_changes() -> None:
    recording = Recording(np.zeros(96_000), 48_000)
    assert recording.duration_s == 2.0
    with pytest.raises(ValueError, match="read-only"):
        recording.samples[0] = 1.0
    for samples, rate_hz, fault in (
        (np.zeros((4, 2)), 48_000, "shape"),
        (np.array([np.inf]), 48_000, "not_finite"),
        (np.zeros(4), 7000, "rate"),
    ):
        with pytest.raises(InvalidRecording) as caught:
            Recording(samples, rate_hz)
        assert caught.value.fault == fault
