"""How close a capture is to the amp.

Enters: arrays of sound with their sample rates, and the layout of the reel that was recorded. Leaves: one frozen
`Measurement`, or an `InvalidRecording` that says why there is none. Knows nothing of files, settings, trials, studies.
"""

from optimiser.scoring.recording import (
    HIGHEST_RATE_HZ,
    LOWEST_RATE_HZ,
    WORKING_RATE_HZ,
    Passage,
    PassageKind,
    Recording,
    ReelLayout,
    Samples,
    check_finite,
    check_rate,
)

__all__ = [
    "HIGHEST_RATE_HZ",
    "LOWEST_RATE_HZ",
    "WORKING_RATE_HZ",
    "Passage",
    "PassageKind",
    "Recording",
    "ReelLayout",
    "Samples",
    "check_finite",
    "check_rate",
]
