"""How the parts of a trial become one overall score: desirability functions [Derringer1980].

    overall = 100 x prod d_i^(w_i / sum w)

with d = max(0.02, x / 100) for match and goal, the share of articulation kept, and max(0.02, x / 10) for the ear
rating. A study with readings alone is scored by how near they come to the wanted band.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from optimiser.study.sheet import OverallWeights, ReadingBand
from optimiser.study.trial import Trial

LEAST_DESIRABILITY: Final = 0.02
"""No part alone brings the overall score to nothing, so that bad trials can still be told apart (no source)."""


@dataclass(frozen=True)
class Part:
    """One part of the overall score of one trial.

    Attributes:
        name: match, goal, articulation or ear.
        weight: its weight in the sheet.
        desirability: 0.02 to 1, None when the trial lacks it.
        se: standard error of the desirability, within the take.
    """

    name: str
    weight: float
    desirability: float | None
    se: float = 0.0


def desirability(score: float, top: float) -> float:
    """A score from 0 to `top` as a share that never reaches 0."""
    return min(1.0, max(LEAST_DESIRABILITY, score / top))


def parts_of(trial: Trial, weights: OverallWeights, *, has_goal: bool) -> tuple[Part, ...]:
    """Every part that counts in the study, with what this trial knows of it.

    Args:
        trial: the trial.
        weights: the sheet's weights; parts of weight 0 are left out.
        has_goal: whether the study has a goal reference; without one the goal does not count.
    """
    parts = [_scored("match", weights.match, trial.match, trial.match_se)]
    if has_goal:
        parts.append(_scored("goal", weights.goal, trial.goal, trial.goal_se))
    kept = trial.articulation_kept
    if kept is None and trial.articulation is not None:
        kept = trial.articulation / 100.0
    parts.append(Part("articulation", weights.articulation, None if kept is None else desirability(kept, 1.0)))
    parts.append(Part("ear", weights.ear, None if trial.ear is None else desirability(trial.ear, 10.0)))
    return tuple(part for part in parts if part.weight > 0)


def _scored(name: str, weight: float, score: float | None, se: float | None) -> Part:
    if score is None:
        return Part(name, weight, None)
    return Part(name, weight, desirability(score, 100.0), (se or 0.0) / 100.0)


def combine(parts: Sequence[Part]) -> tuple[float, float]:
    """Overall score and its standard error (first-order delta method) from parts that are all known.

    Raises:
        ValueError: a part is missing, or there is none.
    """
    total = sum(part.weight for part in parts)
    if not total:
        raise ValueError("no part counts")
    logarithm = 0.0
    relative = 0.0
    for part in parts:
        if part.desirability is None:
            raise ValueError(f"{part.name} is missing")
        share = part.weight / total
        logarithm += share * math.log(part.desirability)
        relative += (share * part.se / part.desirability) ** 2
    overall = 100.0 * math.exp(logarithm)
    return overall, overall * math.sqrt(relative)


def nearness(reading: float, band: ReadingBand) -> float:
    """0 to 100: how near a reading comes to the wanted band; 100 inside it, falling evenly to 0 at the scale's ends."""
    least, most = band.wanted
    if reading < least:
        return 100.0 * max(0.0, (reading - band.low) / (least - band.low))
    if reading > most and band.upper:
        return 100.0 * max(0.0, (band.high - reading) / (band.high - most))
    return 100.0


def nearness_in_words(band: ReadingBand) -> str:
    """How a reading counts where readings are all there is to go by."""
    least, most = band.wanted
    full = f"from {least:g} to {most:g}" if band.upper else f"at {least:g} or more"
    ends = f"{band.low:g} and {band.high:g}" if band.upper else f"{band.low:g}"
    return (
        f"by the {band.name} alone (100 {full}, falling evenly to 0 at {ends}), until there are other scores to go by"
    )
