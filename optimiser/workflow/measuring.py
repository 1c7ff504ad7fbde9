"""Recordings measured from their files, and what of it is kept of a trial."""

from collections.abc import Mapping
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, Final

from optimiser.audio import open_recording
from optimiser.scoring import Curves, Measurement, ReelLayout, articulation_of, measure_with_curves, share_kept
from optimiser.workflow.proof_reels import Wanted

SCORES: Final = ("match", "match_se", "goal", "goal_se", "articulation", "articulation_kept")
"""Entries of a trial that follow from its recordings."""

_DETAILS: Final = (
    "parts",
    "parts_without",
    "goal_parts",
    "goal_parts_without",
    "passages",
    "familiar",
    "sweep",
    "advice",
    "warnings",
    "delay_ms",
    "gain_db",
    "polarity",
    "drift_ppm",
    "measure_version",
)


def measure_pair(
    reference: Path, capture: Path, goal: Path | None = None, layout: ReelLayout | None = None
) -> tuple[Measurement, Curves]:
    """Measure one take, no study needed, and tell the curves behind it; long recordings stay in their files.

    Raises:
        NotFound: a file that is not there.
        InvalidRecording: a file that cannot be measured.
    """
    return measure_with_curves(
        open_recording(reference),
        open_recording(capture),
        layout=layout,
        goal=open_recording(goal) if goal is not None else None,
    )


def measure_take(files: Mapping[str, Path], layout: ReelLayout | None, wanted: Wanted | None) -> Measurement:
    """Measure one take of a study, against its goal reference as far as the two are of one reel.

    Args:
        files: reference, capture, and goal where one is wanted.
        layout: where riffs lie in the take's reel.
        wanted: the goal reference.

    Raises:
        NotFound: a file that is not there.
        InvalidRecording: a file that cannot be measured.
    """
    goal = files["goal"] if wanted is not None else None
    if goal is None or wanted is None or wanted.same_reel:
        return measure_pair(files["reference"], files["capture"], goal, layout)[0]
    measured = measure_pair(files["reference"], files["capture"], None, layout)[0]
    articulation = articulation_of(open_recording(goal), "goal reference", wanted.layout)
    return replace(measured, articulation_kept=share_kept(articulation, measured.articulation))


def entries_of(measured: Measurement) -> tuple[dict[str, float | None], dict[str, Any]]:
    """Scores that become entries of a trial, and the details that are kept beside them."""
    entries = asdict(measured)
    return {score: entries[score] for score in SCORES}, {name: entries[name] for name in _DETAILS}
