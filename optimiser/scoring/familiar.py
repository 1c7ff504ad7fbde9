"""Figures that people know from elsewhere, shown beside the score and not part of it.

Convention: the capture at the reference's K-weighted level, aligned to the nearest sample, both polarities alike.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.scoring.bands import decibels
from optimiser.scoring.coherence import error_to_signal
from optimiser.scoring.evidence import Evidence, frames_of
from optimiser.scoring.frames import CHUNK_FRAMES, LONG, FrameSize, pair_frames
from optimiser.scoring.level import ABSOLUTE_GATE_LKFS, OFFSET_DB, RELATIVE_GATE_LU
from optimiser.scoring.recording import Samples
from optimiser.scoring.track import Track

RESOLUTIONS: Final = (FrameSize(512, 512), FrameSize(1024, 1024), FrameSize(2048, 2048))
"""Frames of the multi-resolution distance. In the paper they overlap, which costs time and changes little
[Yamamoto2020]."""

SMALLEST_POWER: Final = 1e-8
"""Power of a bin under which it counts as this much, so that empty bins have a logarithm [Steinmetz2020]."""

SMALLEST_ERROR: Final = 1e-12
"""Share of the energy under which nothing is left of a null, 120 dB down."""

_BLOCK_FRAMES: Final = 19
_BLOCK_STEP: Final = 5


@dataclass(frozen=True)
class Familiar:
    """Figures that people know from elsewhere.

    Attributes:
        esr: A-weighted error-to-signal ratio at the best gain and delay; phase dominates it [Wright2020].
        null_depth_db: how far the difference lies below the reference at the best gain and delay.
        mr_stft: multi-resolution distance of spectra; noise in empty bins dominates it [Yamamoto2020].
        loudness_difference_lu: gated loudness of the capture less that of the reference [BS1770].
        true_peak_dbtp: of the capture, in dB of full scale [BS1770].
        reference_true_peak_dbtp: of the reference.
    """

    esr: float
    null_depth_db: float
    mr_stft: float
    loudness_difference_lu: float
    true_peak_dbtp: float
    reference_true_peak_dbtp: float


def familiar_figures(
    reference: Track, capture: Track, evidence: Evidence, true_peaks_dbtp: tuple[float, float]
) -> Familiar:
    """All of them, of one aligned pair.

    Args:
        reference: the real chain.
        capture: its capture.
        evidence: of the pair.
        true_peaks_dbtp: of reference and capture.
    """
    sums = evidence.cross.summed()
    return Familiar(
        esr=error_to_signal(*sums),
        null_depth_db=-float(decibels(max(error_to_signal(*sums, weighted=False), SMALLEST_ERROR))),
        mr_stft=multi_resolution_distance(reference, capture, evidence),
        loudness_difference_lu=loudness_difference_lu(evidence),
        true_peak_dbtp=true_peaks_dbtp[1],
        reference_true_peak_dbtp=true_peaks_dbtp[0],
    )


def multi_resolution_distance(reference: Track, capture: Track, evidence: Evidence) -> float:
    """Spectral convergence plus mean difference of log magnitudes, averaged over three resolutions [Yamamoto2020].

    Args:
        reference: the real chain.
        capture: its capture.
        evidence: of the pair, for its alignment and gain.
    """
    gain = np.float32(10.0 ** (-evidence.gain_db / 20.0))
    return float(np.mean([_distance(reference, capture, evidence, size, gain) for size in RESOLUTIONS]))


def _distance(reference: Track, capture: Track, evidence: Evidence, size: FrameSize, gain: np.float32) -> float:
    pairs = pair_frames(reference.size, capture.size, evidence.time_map, size)
    hann = np.asarray(0.5 - 0.5 * np.cos(2 * np.pi * np.arange(size.length) / size.length), dtype=np.float32)
    step = CHUNK_FRAMES * LONG.length // size.length
    apart = there = log_apart = 0.0
    for first in range(0, len(pairs), step):
        here = slice(first, first + step)
        ref = frames_of(reference, pairs.reference[here], hann)
        cap = frames_of(capture, pairs.nearest[here], hann * gain)
        powers = [np.maximum(part.real**2 + part.imag**2, np.float32(SMALLEST_POWER)) for part in (ref, cap)]
        magnitudes = [np.sqrt(power) for power in powers]
        apart += float(np.sum(np.square(magnitudes[0] - magnitudes[1]), dtype=np.float64))
        there += float(np.sum(powers[0], dtype=np.float64))
        log_apart += 0.5 * float(np.sum(np.abs(np.log(powers[0] / powers[1])), dtype=np.float64))
    return float(np.sqrt(apart / there) + log_apart / (len(pairs) * size.bins))


def loudness_difference_lu(evidence: Evidence) -> float:
    """Gated loudness of the capture less that of the reference [BS1770], to about 0.1 LU.

    Blocks are made of frames of 85 ms that overlap, not cut at sharp edges.

    Args:
        evidence: of the pair.
    """
    reference, capture = (_gated_lkfs(evidence.loud[:, side].astype(np.float64)) for side in (0, 1))
    return capture - reference


def _gated_lkfs(power: Samples) -> float:
    running = np.concatenate([[0.0], np.cumsum(power)])
    span = min(_BLOCK_FRAMES, power.size)
    blocks = ((running[span:] - running[:-span]) / span)[::_BLOCK_STEP]
    level_lkfs = OFFSET_DB + decibels(blocks)
    counted = level_lkfs > min(ABSOLUTE_GATE_LKFS, float(level_lkfs.max()) - 1.0)
    gate_lkfs = OFFSET_DB + decibels(blocks[counted].mean()) + RELATIVE_GATE_LU
    return float(OFFSET_DB + decibels(blocks[counted & (level_lkfs > gate_lkfs)].mean()))
