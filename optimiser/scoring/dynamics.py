"""How a capture follows the playing: level in against level out, and tails that die too early."""

from typing import Final

import numpy as np

from optimiser.scoring.bands import LOUDNESS_EXPONENT
from optimiser.scoring.recording import Samples

DYNAMIC_RANGE_DB: Final = 45.0
"""dB below the loudest frame that the dynamic curve covers (measured on toy amps)."""

LOWEST_LEVEL_DB: Final = 50.0
"""dB below the loudest frame that stand for silence, so that a gate costs no more than can be heard (ours)."""

TAIL_DB: Final = (25.0, 50.0)
"""dB below the loudest frame between which a tail is heard (measured on toy amps)."""

TAIL_ALLOWANCE_DB: Final = 1.0
"""dB by which a tail may fall short unnoticed (measured on toy amps)."""

NOISE_DISTANCE_DB: Final = 6.0
"""dB that a frame must lie above the noise to count as playing (measured on toy amps)."""

_WORST_TAIL_DB: Final = 40.0


def dynamic_distance_db(reference_db: Samples, capture_db: Samples) -> float:
    """Root mean square of the difference between the quantiles of two sets of levels, their mean taken off.

    Every quantile counts by its loudness, so that playing counts more than tails.

    Args:
        reference_db: (frames,) levels of the frames that count.
        capture_db: (frames,) the same frames of the capture, tone-matched.
    """
    if reference_db.size < 2:
        return 0.0
    reference_db, difference_db, share = _quantiles(reference_db, capture_db)
    return float(np.sqrt(np.sum(share * (difference_db - np.sum(share * difference_db)) ** 2)))


def dynamic_slope(reference_db: Samples, capture_db: Samples) -> float:
    """DB of the capture for each dB of the reference along their quantiles, 1 when all is well.

    Args:
        reference_db: (frames,) levels of the frames that count.
        capture_db: (frames,) the same frames of the capture, tone-matched.
    """
    if reference_db.size < 2:
        return 1.0
    reference_db, difference_db, share = _quantiles(reference_db, capture_db)
    centred_db = reference_db - np.sum(share * reference_db)
    spread = float(np.sum(share * centred_db**2))
    return 1.0 + float(np.sum(share * centred_db * difference_db)) / spread if spread > 0 else 1.0


def _quantiles(reference_db: Samples, capture_db: Samples) -> tuple[Samples, Samples, Samples]:
    """Quantiles of the reference, capture over reference at each, and each one's share in the loudness."""
    ordered_db = np.sort(reference_db)
    share = 10.0 ** (LOUDNESS_EXPONENT * (ordered_db - ordered_db[-1]))
    return ordered_db, np.sort(capture_db) - ordered_db, share / share.sum()


def tail_shortfall_db(reference_db: Samples, capture_db: Samples) -> Samples:
    """By how much each frame of a tail falls short of the reference's, beyond 1 dB, (frames,).

    Args:
        reference_db: (frames,) levels of the tails.
        capture_db: (frames,) the same frames of the capture, tone-matched.
    """
    return np.clip(reference_db - capture_db - TAIL_ALLOWANCE_DB, 0.0, _WORST_TAIL_DB)
