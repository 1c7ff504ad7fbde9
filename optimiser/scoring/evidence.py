"""Everything that the figures are computed from, taken from one aligned pair in one pass.

Powers are those of the capture brought to the reference's K-weighted level, so that a difference in gain is gone.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.alignment import Alignment
from optimiser.scoring.bands import BAND_COUNT, band_matrix, band_mids_hz, decibels
from optimiser.scoring.coherence import CrossSpectra, refine
from optimiser.scoring.flatness import inside_octave_flatness_db
from optimiser.scoring.frames import (
    CHUNK_FRAMES,
    LONG,
    SHORT,
    FramePairs,
    Spectra,
    TimeMap,
    pair_frames,
    phase_ramps,
    spectra,
    window,
)
from optimiser.scoring.recording import WORKING_RATE_HZ, Samples
from optimiser.scoring.track import Track
from optimiser.scoring.weighting import k_power

LEVEL_RANGE_DB: Final = 50.0
"""dB below the loudest frame down to which frames are heard as playing (measured on toy amps)."""

BLOCK_FRAMES: Final = 16
"""Frames of a block of cross spectra, 0.34 s: a drift that turns phases within a block is found less exactly (measured
on toy amps)."""

MOST_BLOCKS: Final = 128
"""Blocks in which cross spectra are kept, so that a long recording does not need more memory than a short one."""


@dataclass(frozen=True, eq=False)
class BandPowers:
    """Third-octave powers of a pair, frame by frame.

    Attributes:
        reference: (frames, 26) float32.
        capture: (frames, 26) float32, brought to the reference's level.
        time_s: (frames,) middle of each frame in the reference.
    """

    reference: NDArray[np.float32]
    capture: NDArray[np.float32]
    time_s: Samples

    def levels_db(self, equaliser: Samples | float = 1.0) -> tuple[Samples, Samples]:
        """K-weighted level of every frame of reference and capture, in dB, the capture's bands times `equaliser`."""
        weight = k_power(band_mids_hz())
        return decibels(self.reference @ weight), decibels(self.capture @ (weight * equaliser))


@dataclass(frozen=True, eq=False)
class Evidence:
    """What one aligned pair gave.

    Attributes:
        time_map: refined.
        polarity: +1 or -1.
        gain_db: K-weighted level of the capture over the reference's.
        long: powers of 85 ms frames.
        short: powers of 21 ms frames.
        cross: cross spectra along `time_map`.
        flatness_db: (frames, 2) mean flatness inside octaves of reference and capture, of the long frames.
        loud: (frames, 2) K-weighted power of the long frames, each at its own level.
    """

    time_map: TimeMap
    polarity: int
    gain_db: float
    long: BandPowers
    short: BandPowers
    cross: CrossSpectra
    flatness_db: Samples
    loud: NDArray[np.float32]


def gather(reference: Track, capture: Track, alignment: Alignment) -> Evidence:
    """Take the spectra of an aligned pair, and refine the alignment on the way."""
    pairs = pair_frames(reference.size, capture.size, alignment.time_map, LONG)
    long, loud, cross, flatness_db = _long_frames(reference, capture, pairs)
    time_map, cross = refine(cross, alignment.time_map)
    polarity = 1 if np.real(cross.summed()[2]).sum() >= 0 else -1
    short = _short_frames(reference, capture, pair_frames(reference.size, capture.size, time_map, SHORT))
    evidence = Evidence(time_map, polarity, 0.0, long, short, cross, flatness_db, loud)
    return levelled(evidence, np.ones(len(loud), dtype=bool))


def levelled(evidence: Evidence, counted: NDArray[np.bool_]) -> Evidence:
    """The same with the capture at the reference's K-weighted level over the frames that count and are heard.

    Args:
        evidence: of the pair; its powers are not to be used any more.
        counted: (frames,) which long frames those are; all of them when none is heard.
    """
    heard = playing(decibels(evidence.loud[:, 0]))
    heard = heard & counted if np.any(heard & counted) else heard
    reference_db, capture_db = decibels(evidence.loud[heard].sum(axis=0, dtype=np.float64))
    gain_db = float(capture_db - reference_db)
    factor = np.float32(10.0 ** ((evidence.gain_db - gain_db) / 10.0))
    for powers in (evidence.long.capture, evidence.short.capture):
        np.multiply(powers, factor, out=powers)
    return replace(evidence, gain_db=gain_db)


def playing(level_db: Samples, range_db: float = LEVEL_RANGE_DB) -> NDArray[np.bool_]:
    """Frames within `range_db` of the loudest."""
    return np.asarray(level_db > level_db.max() - range_db)


def frames_of(track: Track, starts: NDArray[np.int64], shape: NDArray[np.float32]) -> Spectra:
    """Spectra of windowed frames of a track, with silence beyond its ends.

    Args:
        track: where they are cut from.
        starts: (frames,) first sample of each, in order.
        shape: (frame_size,) window.
    """
    first, last = int(starts[0]), int(starts[-1]) + shape.size
    sound = track.piece(max(0, first), min(last, track.size))
    before, after = max(0, -first), max(0, last - track.size)
    return spectra(np.pad(sound, (before, after)) if before or after else sound, starts - first, shape)


def _long_frames(
    reference: Track, capture: Track, pairs: FramePairs
) -> tuple[BandPowers, NDArray[np.float32], CrossSpectra, Samples]:
    shape, matrix = window(LONG), _bands_and_loudness()
    ramps, rows = phase_ramps(pairs.fraction, LONG)
    bands = np.empty((2, len(pairs), BAND_COUNT), np.float32)
    loud = np.empty((len(pairs), 2), np.float32)
    flatness_db = np.empty((len(pairs), 2))
    block_frames = BLOCK_FRAMES * -(-len(pairs) // (BLOCK_FRAMES * MOST_BLOCKS))
    block_of = np.arange(len(pairs)) // block_frames
    powers = np.zeros((2, block_of[-1] + 1, LONG.bins))
    cross = np.zeros((block_of[-1] + 1, LONG.bins), np.complex128)
    for first in range(0, len(pairs), CHUNK_FRAMES):
        here = slice(first, first + CHUNK_FRAMES)
        blocks = list(_blocks(block_of[here]))
        ref = frames_of(reference, pairs.reference[here], shape)
        cap = frames_of(capture, pairs.capture[here], shape)
        cap *= ramps[rows[here]]
        for block, own in blocks:
            cross[block] += np.einsum("ij,ij->j", ref[own].conj(), cap[own])
        for side, spectrum in enumerate((ref, cap)):
            power = spectrum.real**2 + spectrum.imag**2
            summed = power @ matrix
            bands[side, here], loud[here, side] = summed[:, :BAND_COUNT], summed[:, BAND_COUNT]
            for block, own in blocks:
                powers[side, block] += power[own].sum(axis=0)
            flatness_db[here, side] = inside_octave_flatness_db(power)
    time_s = (pairs.reference + LONG.length / 2) / WORKING_RATE_HZ
    middle_s = np.bincount(block_of, time_s) / np.bincount(block_of)
    spectra_sums = CrossSpectra(powers[0], powers[1], cross, middle_s)
    return BandPowers(bands[0], bands[1], time_s), loud, spectra_sums, flatness_db


def _blocks(block_of: NDArray[np.int64]) -> Iterator[tuple[int, slice]]:
    """Number and rows of every block among a few frames."""
    firsts = np.flatnonzero(np.diff(block_of, prepend=-1)).tolist()
    for first, last in pairwise([*firsts, len(block_of)]):
        yield int(block_of[first]), slice(first, last)


def _bands_and_loudness() -> NDArray[np.float32]:
    """What sums a long frame's power into bands, and in a last column into K-weighted power."""
    loudness = k_power(LONG.frequencies_hz(WORKING_RATE_HZ))[:, None].astype(np.float32)
    return np.concatenate([band_matrix(LONG.length, WORKING_RATE_HZ), loudness], axis=1)


def _short_frames(reference: Track, capture: Track, pairs: FramePairs) -> BandPowers:
    shape, matrix = window(SHORT), band_matrix(SHORT.length, WORKING_RATE_HZ)
    bands = np.empty((2, len(pairs), BAND_COUNT), np.float32)
    step = 4 * CHUNK_FRAMES
    for first in range(0, len(pairs), step):
        here = slice(first, first + step)
        for side, (track, starts) in enumerate(((reference, pairs.reference[here]), (capture, pairs.nearest[here]))):
            spectrum = frames_of(track, starts, shape)
            bands[side, here] = (spectrum.real**2 + spectrum.imag**2) @ matrix
    return BandPowers(bands[0], bands[1], (pairs.reference + SHORT.length / 2) / WORKING_RATE_HZ)
