"""Everything that the figures are computed from, taken from one aligned pair in one pass.

Powers are those of the capture brought to the reference's K-weighted level, so that a difference in gain is gone.
"""

from dataclasses import dataclass, replace
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
    TimeMap,
    pair_frames,
    phase_ramps,
    spectra,
    window,
)
from optimiser.scoring.recording import WORKING_RATE_HZ, Samples
from optimiser.scoring.weighting import k_power

LEVEL_RANGE_DB: Final = 50.0
"""dB below the loudest frame down to which frames are heard as playing (measured on toy amps)."""

MOST_BLOCKS: Final = 128
"""Blocks in which cross spectra are kept, so that a long recording does not need more memory than a short one."""

Mono = NDArray[np.float32]


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
    """

    time_map: TimeMap
    polarity: int
    gain_db: float
    long: BandPowers
    short: BandPowers
    cross: CrossSpectra
    flatness_db: Samples


def gather(reference: Mono, capture: Mono, alignment: Alignment) -> Evidence:
    """Take the spectra of an aligned pair, and refine the alignment on the way.

    Args:
        reference: (n,) at the working rate.
        capture: (m,) at the working rate.
        alignment: the first estimate.
    """
    pairs = pair_frames(reference.size, capture.size, alignment.time_map, LONG)
    long, cross, flatness_db = _long_frames(reference, capture, pairs)
    time_map, cross = refine(cross, alignment.time_map)
    polarity = 1 if np.real(cross.summed()[2]).sum() >= 0 else -1
    short = _short_frames(reference, capture, pair_frames(reference.size, capture.size, time_map, SHORT))
    gain_db = _gain_db(long)
    factor = np.float32(10.0 ** (-gain_db / 10.0))
    return Evidence(
        time_map,
        polarity,
        gain_db,
        replace(long, capture=long.capture * factor),
        replace(short, capture=short.capture * factor),
        cross,
        flatness_db,
    )


def playing(level_db: Samples, range_db: float = LEVEL_RANGE_DB) -> NDArray[np.bool_]:
    """Frames within `range_db` of the loudest."""
    return np.asarray(level_db > level_db.max() - range_db)


def _gain_db(long: BandPowers) -> float:
    weight = k_power(band_mids_hz())
    reference, capture = long.reference @ weight, long.capture @ weight
    heard = playing(decibels(reference))
    return float(decibels(capture[heard].sum()) - decibels(reference[heard].sum()))


def _long_frames(reference: Mono, capture: Mono, pairs: FramePairs) -> tuple[BandPowers, CrossSpectra, Samples]:
    shape, matrix = window(LONG), band_matrix(LONG.length, WORKING_RATE_HZ)
    ramps, rows = phase_ramps(pairs.fraction, LONG)
    bands = np.empty((2, len(pairs), BAND_COUNT), np.float32)
    flatness_db = np.empty((len(pairs), 2))
    chunks_each = -(-len(pairs) // (CHUNK_FRAMES * MOST_BLOCKS))
    block_of = np.arange(len(pairs)) // (CHUNK_FRAMES * chunks_each)
    powers = np.zeros((2, block_of[-1] + 1, LONG.bins))
    cross = np.zeros((block_of[-1] + 1, LONG.bins), np.complex128)
    for first in range(0, len(pairs), CHUNK_FRAMES):
        here, block = slice(first, first + CHUNK_FRAMES), block_of[first]
        ref = spectra(reference, pairs.reference[here], shape)
        cap = spectra(capture, pairs.capture[here], shape)
        cap *= ramps[rows[here]]
        cross[block] += np.einsum("ij,ij->j", ref.conj(), cap)
        for side, spectrum in enumerate((ref, cap)):
            power = spectrum.real**2 + spectrum.imag**2
            bands[side, here] = power @ matrix
            powers[side, block] += power.sum(axis=0)
            flatness_db[here, side] = inside_octave_flatness_db(power)
    time_s = (pairs.reference + LONG.length / 2) / WORKING_RATE_HZ
    middle_s = np.bincount(block_of, time_s) / np.bincount(block_of)
    return BandPowers(bands[0], bands[1], time_s), CrossSpectra(powers[0], powers[1], cross, middle_s), flatness_db


def _short_frames(reference: Mono, capture: Mono, pairs: FramePairs) -> BandPowers:
    shape, matrix = window(SHORT), band_matrix(SHORT.length, WORKING_RATE_HZ)
    bands = np.empty((2, len(pairs), BAND_COUNT), np.float32)
    at = pairs.capture + (pairs.fraction >= 0.5)
    at = np.minimum(at, capture.size - SHORT.length)
    step = 4 * CHUNK_FRAMES
    for first in range(0, len(pairs), step):
        here = slice(first, first + step)
        for side, (sound, starts) in enumerate(((reference, pairs.reference[here]), (capture, at[here]))):
            spectrum = spectra(sound, starts, shape)
            bands[side, here] = (spectrum.real**2 + spectrum.imag**2) @ matrix
    return BandPowers(bands[0], bands[1], (pairs.reference + SHORT.length / 2) / WORKING_RATE_HZ)
