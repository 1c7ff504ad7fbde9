"""Which of several reels a recording is of, by when it sounds and when it rests."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from optimiser.scoring.passages import LEAST_LIKENESS, likeness_of
from optimiser.scoring.recording import ReelLayout, Samples, Sound, check_finite, check_rate

STEPS_A_SECOND: Final = 100
"""Frames in a second; 10 ms are a thirtieth of the gap between two riffs (a choice, no source)."""

_SILENCE: Final = 1e-12


def followed(recording: Sound, layouts: Sequence[ReelLayout]) -> int | None:
    """Which layout a recording follows best.

    Args:
        recording: of one of the reels, with or without something before and after it.
        layouts: of the reels; the first of those that are followed equally well is taken.

    Returns:
        Its place among them, None when the recording follows none.

    Raises:
        InvalidRecording: values that are no numbers.
    """
    level_db = _levels_db(recording)
    if not layouts or not level_db.size:
        return None
    alike = [likeness_of(layout, level_db, 1 / STEPS_A_SECOND) for layout in layouts]
    best = int(np.argmax(alike))
    return best if alike[best] >= LEAST_LIKENESS else None


def _levels_db(recording: Sound) -> Samples:
    """(frames,) level of every 10 ms, all channels together."""
    check_rate(recording.rate_hz, "The recording")
    edges = np.arange(0, recording.frames + 1, recording.rate_hz / STEPS_A_SECOND).round().astype(np.int64)
    energy, done = np.zeros(max(0, edges.size - 1)), 0
    for block in recording.blocks():
        check_finite(block, recording.rate_hz, "The recording", done)
        frame = np.searchsorted(edges, np.arange(done, done + len(block)), side="right") - 1
        inside = frame < energy.size
        energy += np.bincount(frame[inside], (block[inside] ** 2).sum(axis=1), minlength=energy.size)
        done += len(block)
    return np.asarray(10.0 * np.log10(energy / np.diff(edges) + _SILENCE))
