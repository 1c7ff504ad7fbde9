"""The notes of a pair: when they start, and how their attack changes."""

from dataclasses import dataclass

import numpy as np

from optimiser.scoring.attack import attack_contrast_db, note_powers, on_both, onset_samples, rings_on
from optimiser.scoring.distances import soft_limited
from optimiser.scoring.evidence import Evidence
from optimiser.scoring.frames import SHORT
from optimiser.scoring.recording import WORKING_RATE_HZ, Samples
from optimiser.scoring.track import Track


@dataclass(frozen=True, eq=False)
class Notes:
    """What the notes of a pair show.

    Attributes:
        onset_s: (notes,) when they start in the reference.
        change_db: (notes,) change of their attack over their body, tone-matched.
        contrast_db: (notes,) attack over body of reference and capture, tone-matched.
    """

    onset_s: Samples
    change_db: Samples
    contrast_db: tuple[Samples, Samples]


def compare_notes(reference: Track, capture: Track, evidence: Evidence, equaliser: Samples) -> Notes:
    """Find the notes of the reference and compare their attacks with the capture's.

    Args:
        reference: the real chain.
        capture: its capture.
        evidence: of the pair.
        equaliser: (26,) power gain of every band that gives the capture the reference's tone.
    """
    short = evidence.short
    starts = np.round(short.time_s * WORKING_RATE_HZ - SHORT.length / 2).astype(np.int64)
    here, there = on_both(onset_samples(reference, short.reference, starts), evidence.time_map, capture.size)
    before, after = note_powers(reference, here), note_powers(capture, there)
    ringing = rings_on(before)
    contrast_db = attack_contrast_db(before)[ringing], attack_contrast_db(after, equaliser)[ringing]
    return Notes(here[ringing] / WORKING_RATE_HZ, soft_limited(contrast_db[1] - contrast_db[0]), contrast_db)
