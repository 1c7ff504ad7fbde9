"""What of a sound's fine structure differs: cells of a third octave by some 40 ms, as loud as they are heard.

Distortion, noise under the playing, ringing and lost partials show here; level, tone and gain that moves as a whole do
not. Comparing how the shape of audible spectra moves over time is what an index fitted to listeners rests on
[Kates2016]; the form here is ours.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.bands import band_mids_hz
from optimiser.scoring.distances import soft_limited
from optimiser.scoring.recording import Samples

LISTENING_DB_SPL: Final = 62.0
"""dB SPL at which the playing is taken to be heard: 3 dB below the 65 at which [Kates2016] is used, so that hiss 10 dB
above the amp's own hardly counts (ours)."""

CELL_BANDS: Final = slice(6, 23)
"""200 Hz to 8 kHz: below, a frame of 21 ms does not resolve third octaves, and phase that is not heard would count."""

CELL_FRAMES: Final = 7
"""Short frames that a cell is made of, under a Hann window; half of its weight lies within 40 ms (measured on toy
amps: fewer let phase count that is not heard, more change nothing)."""

AUDIBLE_DB: Final = 2.5
"""dB above the threshold that a frame's bands of the reference must reach on average to count (from memory, as in
[Kates2016])."""

NOISE_MARGIN: Final = 20.0
"""Times the reference's own noise, below which a cell is noise (measured on toy amps)."""

_FRAMES_AT_ONCE: Final = 4096


def hearing_threshold_db(frequency_hz: Samples) -> Samples:
    """Level in dB SPL from which a tone is heard in quiet by young ears [Terhardt1979].

    Args:
        frequency_hz: any shape, 20 Hz to 16 kHz.
    """
    khz = frequency_hz / 1000.0
    return np.asarray(3.64 * khz**-0.8 - 6.5 * np.exp(-0.6 * (khz - 3.3) ** 2) + 1e-3 * khz**4)


def texture_squares(
    powers: tuple[NDArray[np.float32], NDArray[np.float32]],
    playing_power: float,
    noise: Samples,
    counted: NDArray[np.bool_],
) -> tuple[Samples, Samples]:
    """Squared differences of cells that are owed neither to the band nor to the frame, and how much each frame counts.

    Args:
        powers: (frames, 26) of short frames in a row, of the reference and of the capture at the reference's level.
        playing_power: mean power of the reference while playing.
        noise: (26,) noise power of the reference.
        counted: (frames,) which frames may count.

    Returns:
        Squares in dB squared times the weight of each frame, and that weight, (frames,) each; zero for frames that are
        hardly heard or do not count.
    """
    floor = playing_power * 10.0 ** ((hearing_threshold_db(band_mids_hz()) - LISTENING_DB_SPL) / 10.0)
    audible = (floor + NOISE_MARGIN * noise)[CELL_BANDS].astype(np.float32)
    levels_db = [_smoothed(_levels_db(side, audible)) for side in powers]
    heard = counted & (levels_db[0].mean(axis=1) > AUDIBLE_DB)
    ours_db, theirs_db = (level_db[heard] for level_db in levels_db)
    share = np.sqrt(np.maximum(ours_db, theirs_db))
    theirs_db -= ours_db
    theirs_db -= np.sum(share * theirs_db, axis=0) / np.maximum(share.sum(axis=0), np.finfo(np.float32).tiny)
    weight = share.sum(axis=1)
    theirs_db -= (np.sum(share * theirs_db, axis=1) / np.maximum(weight, np.finfo(np.float32).tiny))[:, None]
    squares, weights = np.zeros(heard.size), np.zeros(heard.size)
    squares[heard], weights[heard] = np.sum(share * soft_limited(theirs_db) ** 2, axis=1), weight
    return squares, weights


def _levels_db(powers: NDArray[np.float32], floor: NDArray[np.float32]) -> NDArray[np.float32]:
    """DB above the floor, never below 0 and evenly bent towards it, (frames, 17)."""
    levels_db = np.empty((len(powers), floor.size), np.float32)
    for first in range(0, len(powers), _FRAMES_AT_ONCE):
        here = slice(first, first + _FRAMES_AT_ONCE)
        levels_db[here] = 10.0 * np.log10(1.0 + powers[here, CELL_BANDS] / floor)
    return levels_db


def _smoothed(levels_db: NDArray[np.float32]) -> NDArray[np.float32]:
    """Each frame with its neighbours, so that phase turned within tens of milliseconds does not count."""
    shape = np.hanning(CELL_FRAMES + 2)[1:-1]
    reach = CELL_FRAMES // 2
    padded = np.pad(levels_db, ((reach, reach), (0, 0)), mode="edge")
    smooth = np.zeros_like(levels_db)
    for offset, share in enumerate(shape / shape.sum()):
        smooth += np.float32(share) * padded[offset : offset + len(levels_db)]
    return smooth
