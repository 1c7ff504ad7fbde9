"""Where notes start, and how much stronger their first instants are than what follows."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.bands import BAND_COUNT, SILENT_POWER, band_matrix, decibels
from optimiser.scoring.frames import LONG, SHORT, TimeMap
from optimiser.scoring.recording import WORKING_RATE_HZ, Samples
from optimiser.scoring.track import Track

ATTACK_S: Final = (0.0, 0.020)
"""Seconds after the onset that hold the attack (ours; attack time is a main dimension of timbre [McAdams1995])."""

BODY_S: Final = (0.040, 0.100)
"""Seconds after the onset that the attack is compared with (ours)."""

LOWEST_ATTACK_BAND: Final = 10
"""Index of the 500 Hz band, from which an attack is heard (measured on toy amps)."""

RISE_DB: Final = 6.0
"""dB that the bands must rise by on average within two frames at an onset (measured on toy amps)."""

ONSET_RANGE_DB: Final = 40.0
"""dB below the loudest cell, under which a band counts as silent (measured on toy amps)."""

BODY_RANGE_DB: Final = 30.0
"""dB below the loudest body, under which an onset is no note but a click (measured on toy amps)."""

_NEIGHBOUR_FRAMES: Final = 5
_NOTES_AT_ONCE: Final = 64

NotePowers = tuple[NDArray[np.float32], NDArray[np.float32]]
"""(notes, bands from 500 Hz up) power of attack and body."""


def onset_samples(reference: Track, bands: NDArray[np.float32], starts: NDArray[np.int64]) -> NDArray[np.int64]:
    """Samples of the reference at which notes start that ring for a tenth of a second alone.

    Args:
        reference: the reference.
        bands: (frames, 26) its powers in 21 ms frames.
        starts: (frames,) first sample of each frame.
    """
    level_db = decibels(bands[:, 6:]).astype(np.float32)
    level_db = np.maximum(level_db, level_db.max(initial=-200.0) - np.float32(ONSET_RANGE_DB))
    rise_db = np.zeros(len(bands))
    rise_db[2:] = np.maximum(level_db[2:] - level_db[:-2], 0.0).mean(axis=1)
    padded = np.pad(rise_db, _NEIGHBOUR_FRAMES)
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * _NEIGHBOUR_FRAMES + 1)
    peaks = np.flatnonzero((rise_db >= RISE_DB) & (rise_db >= around.max(axis=1)))
    exact = np.array([_steepest(reference, int(starts[peak])) for peak in peaks], dtype=np.int64)
    exact = exact[exact + round(BODY_S[1] * WORKING_RATE_HZ) <= reference.size]
    alone = np.diff(exact, append=exact[-1:] + WORKING_RATE_HZ) >= BODY_S[1] * WORKING_RATE_HZ
    return exact[alone]


def _steepest(reference: Track, start: int) -> int:
    """Sample around a frame before which 5 ms are quietest against the 5 ms after."""
    step, span = 48, 240
    first = max(0, start - SHORT.hop - span)
    piece = reference.piece(first, min(reference.size, start + SHORT.length + span)).astype(np.float64)
    energy = np.concatenate([[0.0], np.cumsum(np.diff(piece, prepend=piece[:1]) ** 2)])
    at = np.arange(span, piece.size - span, step)
    if not at.size:
        return start
    after, before = energy[at + span] - energy[at], energy[at] - energy[at - span]
    return first + int(at[np.argmax(after - before)])


def note_powers(track: Track, onsets: NDArray[np.int64]) -> NotePowers:
    """Band powers of every note's attack and body.

    Args:
        track: the recording.
        onsets: (notes,) samples at which notes start, in order; each is followed by a tenth of a second.
    """
    matrix = band_matrix(LONG.length, WORKING_RATE_HZ)[:, LOWEST_ATTACK_BAND:]
    powers = np.zeros((2, onsets.size, matrix.shape[1]), np.float32)
    for first in range(0, onsets.size, _NOTES_AT_ONCE):
        here = slice(first, first + _NOTES_AT_ONCE)
        notes = np.stack([track.piece(at, at + round(BODY_S[1] * WORKING_RATE_HZ)) for at in onsets[here].tolist()])
        for part, span_s in enumerate((ATTACK_S, BODY_S)):
            powers[part, here] = _piece_power(notes, span_s) @ matrix
    return powers[0], powers[1]


def rings_on(powers: NotePowers) -> NDArray[np.bool_]:
    """Which notes have a body: a click before a rest has none, (notes,)."""
    body_db = decibels(powers[1].sum(axis=1))
    return np.asarray(body_db > body_db.max(initial=-200.0) - BODY_RANGE_DB)


def attack_contrast_db(powers: NotePowers, equaliser: Samples | float = 1.0) -> Samples:
    """Level of the attack over that of the body, from 500 Hz up, for every note, (notes,).

    Args:
        powers: of the notes.
        equaliser: (26,) power gain of every band.
    """
    weight = (np.ones(BAND_COUNT) * equaliser)[LOWEST_ATTACK_BAND:]
    attack, body = (part @ weight for part in powers)
    return decibels(attack + SILENT_POWER) - decibels(body + SILENT_POWER)


def on_both(
    onsets: NDArray[np.int64], time_map: TimeMap, capture_size: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The onsets whose notes lie within the capture too, in the reference and in the capture."""
    there = np.round(time_map.capture_position(onsets.astype(np.float64))).astype(np.int64)
    inside = (there >= 0) & (there + round(BODY_S[1] * WORKING_RATE_HZ) <= capture_size)
    return onsets[inside], there[inside]


def _piece_power(notes: NDArray[np.float32], span_s: tuple[float, float]) -> NDArray[np.float32]:
    import scipy.fft

    first, last = (round(second * WORKING_RATE_HZ) for second in span_s)
    shape = np.sin(np.pi * (np.arange(last - first) + 0.5) / (last - first)) ** 2
    spectrum = scipy.fft.rfft(notes[:, first:last] * shape.astype(np.float32), LONG.length, axis=1)
    return np.asarray((spectrum.real**2 + spectrum.imag**2) / np.float32(np.sum(shape**2) * LONG.length))
