"""A recording is known to be of the reel that it plays, among others that share riffs with it."""

import numpy as np
import pytest
from numpy.typing import NDArray

from optimiser.audio.reel_layout import layout_of
from optimiser.errors import InvalidRecording
from optimiser.scoring import ArraySound, ReelLayout, followed

RATE_HZ = 16_000
RIFFS = {"chugs": 2.0, "chord": 1.7, "run": 2.4, "gallop": 1.8}
"""Names and seconds."""

ORDERS = (
    ("chugs", "chord", "run"),
    ("chugs", "chord", "run", "gallop"),
    ("chugs", "chord"),
    ("chord", "chugs", "run"),
    ("gallop", "chugs", "chord", "run"),
)
LAYOUTS = [layout_of(order, RIFFS, "proof", RATE_HZ) for order in ORDERS] + [
    layout_of(ORDERS[0], RIFFS, "proof", 44_100, sweep=True)
]


def recording(layout: ReelLayout, hiss: float = 1e-3, lead_s: float = 0.0, tail_s: float = 0.0) -> NDArray[np.float64]:
    """Noise where the reel sounds, that rings on for a while after each passage, over hiss; (n, 2)."""
    rng = np.random.default_rng(4)
    sounding = np.zeros(round((lead_s + layout.duration_s + tail_s) * RATE_HZ))
    for passage in layout.passages:
        if passage.kind not in ("silence", "rest"):
            first, last = (round((lead_s + at) * RATE_HZ) for at in (passage.start_s, passage.end_s))
            sounding[first:last] = 1.0
            ringing = np.exp(-np.arange(sounding.size - last) / (0.08 * RATE_HZ))
            sounding[last:] = np.maximum(sounding[last:], ringing)
    sound = 0.2 * sounding * rng.normal(size=sounding.size)
    return np.stack([sound, 0.5 * sound], axis=1) + hiss * rng.normal(size=(sounding.size, 2))


@pytest.mark.parametrize("place", range(len(LAYOUTS)))
@pytest.mark.parametrize(("lead_s", "tail_s", "hiss"), [(0.0, 0.0, 1e-4), (1.5, 4.0, 1e-3), (0.3, -0.5, 5e-3)])
def test_it_is_told_from_reels_that_share_its_riffs(place: int, lead_s: float, tail_s: float, hiss: float) -> None:
    """Cut to the reel, with much before and after it, and stopped half a second too early over loud hiss."""
    layout = LAYOUTS[place]
    whole = recording(layout, hiss, lead_s, max(tail_s, 0.0))
    cut = whole[: whole.shape[0] + round(min(tail_s, 0.0) * RATE_HZ)]
    assert followed(ArraySound(cut, RATE_HZ), LAYOUTS) == place


def test_the_first_of_two_that_sound_alike_is_taken() -> None:
    renamed = layout_of(("a", "b"), {"a": RIFFS["chugs"], "b": RIFFS["chord"]}, "proof", RATE_HZ)
    sound = ArraySound(recording(LAYOUTS[2]), RATE_HZ)
    assert followed(sound, [renamed, LAYOUTS[2]]) == followed(sound, [LAYOUTS[2], renamed]) == 0


def test_what_follows_no_reel_is_said_to_follow_none() -> None:
    hiss = np.random.default_rng(1).normal(size=(20 * RATE_HZ, 1))
    for samples in (hiss, np.zeros((RATE_HZ, 1)), np.zeros((0, 1))):
        assert followed(ArraySound(samples, RATE_HZ), LAYOUTS) is None
    assert followed(ArraySound(recording(LAYOUTS[0]), RATE_HZ), []) is None
    hiss[77] = np.nan
    with pytest.raises(InvalidRecording, match="sample 77"):
        followed(ArraySound(hiss, RATE_HZ), LAYOUTS)
