"""What lies behind a difference of fine structure: many faults leave it, and each leaves more beside it.

Every threshold in here was drawn from graded faults of toy chains playing strings and recorded guitar (ours).
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from optimiser.scoring.dynamics import NOISE_DISTANCE_DB, dynamic_slope
from optimiser.scoring.figures import Traces
from optimiser.scoring.passages import QUIET_QUANTILE
from optimiser.scoring.recording import Samples

Cause = Literal["gate", "ringing", "noise", "dynamics", "attack", "distortion", "tone"]

GATED_DB: Final = 6.0
"""dB by which a soft instant must fall short of the dynamic curve to count as gated."""

GATED_SHARE: Final = 0.35
"""Share of the fine structure's difference that must lie in gated instants."""

MOST_GATED_DB: Final = 60.0
"""dB that stand for nothing left."""

RINGING_DB: Final = 6.0
"""dB by which the capture must lie above the reference where notes have ended."""

ENDED_DB: Final = 15.0
"""dB by which the reference must have fallen within a tenth of a second for a note to have ended."""

STEEP: Final = 1.8
"""Steps of texture for one of dynamics, below which a changed dynamic curve explains the texture."""

UNFILLED_DB: Final = 0.15
"""dB of fill, below which gain that follows the playing leaves the distortion as it was."""

SUDDEN: Final = 0.5
"""Steps of texture for one of attack, below which a changed attack explains the texture."""

NOISY_RESIDUAL: Final = 0.8
"""Steps of residual for one of texture, below which noise in the rests explains the texture."""

CLEAN_RESIDUAL: Final = 0.28
"""Steps of residual for one of texture, below which a filter explains the texture."""

_TOP_DB: Final = 25.0
_STEEPEST: Final = 1.1
_TENTH_FRAMES: Final = 10


@dataclass(frozen=True)
class LowLevel:
    """What happens where the playing is soft or has just ended.

    Attributes:
        gated_share: share of the fine structure's difference in instants that fall short of the dynamic curve.
        gated_db: by how much those fall short.
        ringing_db: by how much the capture lies above the reference, and above both noises, where notes have ended.
    """

    gated_share: float
    gated_db: float
    ringing_db: float


def low_level(traces: Traces) -> LowLevel:
    """Look at soft instants and at the ends of notes."""
    reference_db, capture_db = traces.evidence.short.levels_db(10.0 ** (-traces.tone_db / 10.0))
    expected_db = _expected_db(traces, reference_db)
    squares = traces.texture[0]
    gated = (squares > 0) & (capture_db < expected_db - GATED_DB)
    ended = _running_max(reference_db) - reference_db > ENDED_DB
    quiet_db = max(float(np.quantile(level_db, QUIET_QUANTILE)) for level_db in (reference_db, capture_db))
    ringing_db = capture_db - np.maximum(expected_db, quiet_db + NOISE_DISTANCE_DB)
    return LowLevel(
        float(squares[gated].sum() / max(squares.sum(), 1e-12)),
        min(MOST_GATED_DB, float(np.median((expected_db - capture_db)[gated]))) if gated.any() else 0.0,
        max(0.0, float(np.mean(ringing_db[ended]))) if ended.any() else 0.0,
    )


def cause_of(steps: dict[str, float], low: LowLevel, fill_db: float) -> Cause:
    """The fault that the difference of fine structure is owed to, by what else it left.

    Args:
        steps: of each part.
        low: what happens at low level.
        fill_db: change of the fill.
    """
    texture = steps["texture"]
    if low.gated_share > GATED_SHARE:
        return "gate"
    if low.ringing_db > RINGING_DB:
        return "ringing"
    if texture < SUDDEN * steps["attack"]:
        return "attack"
    if texture < STEEP * steps["dynamics"] and abs(fill_db) < UNFILLED_DB:
        return "dynamics"
    if steps["noise"] >= 1.0 and steps["residual"] < NOISY_RESIDUAL * texture:
        return "noise"
    filtered = steps["residual"] < CLEAN_RESIDUAL * texture and steps["tone"] >= 1.0
    return "tone" if filtered else "distortion"


def _expected_db(traces: Traces, reference_db: Samples) -> Samples:
    """Levels of the capture that the dynamic curve of the louder playing leads one to expect."""
    levels = tuple(level_db[traces.level_mask] for level_db in traces.levels_db)
    if not levels[0].size:
        return reference_db
    top_db = float(levels[0].max())
    loud = levels[0] > top_db - _TOP_DB
    slope = min(_STEEPEST, dynamic_slope(levels[0][loud], levels[1][loud]))
    middle_db, shift_db = float(levels[0][loud].mean()), float((levels[1] - levels[0])[loud].mean())
    return np.asarray(reference_db + shift_db + (slope - 1.0) * (reference_db - middle_db))


def _running_max(level_db: Samples) -> Samples:
    padded = np.pad(level_db, (_TENTH_FRAMES, 0), mode="edge")
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, _TENTH_FRAMES + 1).max(axis=1))
