"""How close a capture is to the amp.

Enters: arrays of sound with their sample rates, and the layout of the reel that was recorded. Leaves: one frozen
`Measurement`, or an `InvalidRecording` that says why there is none. Knows nothing of files, settings, trials, studies.
"""

from optimiser.scoring.articulation import DYAD_HZ, share_kept
from optimiser.scoring.blind_test import chance_of_guessing, rated_by_blind_test, steps_from_blind_test
from optimiser.scoring.curves import Curves
from optimiser.scoring.ears import (
    HOW_TO_RATE,
    EarFit,
    Rated,
    fit_weights,
)
from optimiser.scoring.familiar import Familiar
from optimiser.scoring.imprint import are_copies, imprint
from optimiser.scoring.level import loudness_lkfs
from optimiser.scoring.match_score import (
    SHIPPED_WEIGHTS,
    Part,
    PartWeights,
    PassageScore,
    error_of_steps,
    score_of_steps,
)
from optimiser.scoring.measurement import (
    MEASURE_VERSION,
    Measurement,
    articulation_of,
    measure,
    measure_sounds,
    measure_with_curves,
)
from optimiser.scoring.recording import (
    HIGHEST_RATE_HZ,
    LOWEST_RATE_HZ,
    MOST_CHANNELS,
    WORKING_RATE_HZ,
    ArraySound,
    Passage,
    PassageKind,
    ReelLayout,
    Samples,
    Sound,
    check_finite,
    check_rate,
)
from optimiser.scoring.reel_search import followed
from optimiser.scoring.sweep import SWEEP_HZ, SWEEP_S, SweepPoint, sweep_phase

__all__ = [
    "DYAD_HZ",
    "HIGHEST_RATE_HZ",
    "HOW_TO_RATE",
    "LOWEST_RATE_HZ",
    "MEASURE_VERSION",
    "MOST_CHANNELS",
    "SHIPPED_WEIGHTS",
    "SWEEP_HZ",
    "SWEEP_S",
    "WORKING_RATE_HZ",
    "ArraySound",
    "Curves",
    "EarFit",
    "Familiar",
    "Measurement",
    "Part",
    "PartWeights",
    "Passage",
    "PassageKind",
    "PassageScore",
    "Rated",
    "ReelLayout",
    "Samples",
    "Sound",
    "SweepPoint",
    "are_copies",
    "articulation_of",
    "chance_of_guessing",
    "check_finite",
    "check_rate",
    "error_of_steps",
    "fit_weights",
    "followed",
    "imprint",
    "loudness_lkfs",
    "measure",
    "measure_sounds",
    "measure_with_curves",
    "rated_by_blind_test",
    "score_of_steps",
    "share_kept",
    "steps_from_blind_test",
    "sweep_phase",
]
