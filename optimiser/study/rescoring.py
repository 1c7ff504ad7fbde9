"""Match and goal scores worked out again, from the steps kept with a take, under weights that the study brings.

The entries of a trial stay as they were stored; what follows from them is worked out whenever the study is read.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Final

from optimiser.errors import BadInput
from optimiser.scoring import MEASURE_VERSION, PartWeights, error_of_steps, score_of_steps
from optimiser.study.trial import Trial

SCORES: Final = {"match": ("parts", "parts_without"), "goal": ("goal_parts", "goal_parts_without")}
"""The scores that follow from steps: where a take's details hold the parts, and the rows behind the error."""

_PARTS: Final = tuple(field.name for field in fields(PartWeights))
_LARGEST: Final = 1e9
_SAME: Final = 1e-6


@dataclass(frozen=True)
class _Kept:
    """Steps of the seven parts, the weights that they were scored by, and the steps of every row behind the error."""

    steps: tuple[float, ...]
    weights: PartWeights
    rows: tuple[tuple[float, ...], ...]


def rescored(trial: Trial, details: Mapping[str, Any], weights: PartWeights | None) -> Trial:
    """The trial with match, goal and their errors under other weights, as far as its details allow.

    Args:
        trial: as it is stored.
        details: what else was kept of it.
        weights: the study's own; None leaves the trial as it is.
    """
    if weights is None:
        return trial
    changes: dict[str, Any] = {}
    for score in SCORES:
        kept = _kept(details, score)
        if kept is not None and getattr(trial, score) is not None and not why_kept(trial, details, score):
            changes[score] = score_of_steps(kept.steps, weights)
            changes[f"{score}_se"] = error_of_steps(kept.rows, weights)
    return replace(trial, **changes) if changes else trial


def why_kept(trial: Trial, details: Mapping[str, Any], score: str) -> str:
    """Why a score stays as it is stored under any weights; empty when it does not, or when there is none.

    Args:
        trial: as it is stored.
        details: what else was kept of it.
        score: match or goal.
    """
    stored = getattr(trial, score)
    if stored is None:
        return ""
    if "parts" not in details:
        return "it has no recordings"
    if details.get("measure_version") != MEASURE_VERSION:
        return f"version {details.get('measure_version')} of the measure scored it, not version {MEASURE_VERSION}"
    kept = _kept(details, score)
    if kept is None:
        return "not all of its steps were kept"
    if not math.isclose(stored, score_of_steps(kept.steps, kept.weights), abs_tol=_SAME):
        return "the score was typed in, or belongs to other recordings"
    return ""


def parts_as_scored(
    trial: Trial, details: Mapping[str, Any], weights: PartWeights | None
) -> Sequence[Mapping[str, Any]]:
    """The parts of a trial's match score, with the weights under which it is scored.

    Args:
        trial: as it is stored.
        details: what else was kept of it.
        weights: the study's own, None for the shipped ones.
    """
    parts: Sequence[Mapping[str, Any]] = details.get("parts", [])
    if weights is None or trial.match is None or why_kept(trial, details, "match"):
        return parts
    return [{**part, "weight": getattr(weights, part["name"])} for part in parts]


def steps_of(details: Mapping[str, Any]) -> dict[str, float] | None:
    """Steps of every part against the reference by name, None when they were not kept."""
    steps = _row(details.get("parts"), "steps")
    return None if steps is None else dict(zip(_PARTS, steps, strict=True))


def _kept(details: Mapping[str, Any], score: str) -> _Kept | None:
    parts, rows = (details.get(name) for name in SCORES[score])
    steps, weights = _row(parts, "steps"), _row(parts, "weight")
    if steps is None or weights is None or not isinstance(rows, Sequence):
        return None
    without = [row for row in map(_seven, rows) if row is not None]
    if len(without) < 2 or len(without) < len(rows):
        return None
    try:
        return _Kept(steps, PartWeights(*weights), tuple(without))
    except BadInput:
        return None


def _row(parts: object, entry: str) -> tuple[float, ...] | None:
    """One entry of every part, in the order of the parts."""
    if not isinstance(parts, Sequence):
        return None
    by_name = {str(part.get("name")): part.get(entry) for part in parts if isinstance(part, Mapping)}
    return _seven([by_name.get(name) for name in _PARTS])


def _seven(row: object) -> tuple[float, ...] | None:
    if not isinstance(row, Sequence) or len(row) != len(_PARTS):
        return None
    numbers = [
        float(entry)
        for entry in row
        if isinstance(entry, int | float) and not isinstance(entry, bool) and abs(entry) < _LARGEST
    ]
    return tuple(numbers) if len(numbers) == len(_PARTS) else None
