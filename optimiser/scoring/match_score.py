"""From seven figures to one score, and how sure it is.

No listening panel stands behind steps and weights yet: they are engineering guesses, checked against graded faults.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from optimiser.scoring.figures import PARTS, STRETCHES, Figures, Traces, figures_of, within, without
from optimiser.scoring.passages import Located
from optimiser.scoring.recording import Passage

HALF_SCORE_STEPS: Final = 6.0
"""Steps at which the score is 50 (measured on toy amps)."""


@dataclass(frozen=True)
class Part:
    """One part of a match score.

    Attributes:
        name: what is compared.
        value: how far apart the two lie.
        unit: of `value`; empty for a share.
        step: the difference that should be just noticeable, in the same unit.
        weight: how much the part counts.
        steps: value over step.
    """

    name: str
    value: float
    unit: str
    step: float
    weight: float
    steps: float


@dataclass(frozen=True)
class PassageScore:
    """How alike the two recordings are in one passage.

    Attributes:
        name: of the passage, or of the first and last of several.
        start_s: seconds in the reference.
        end_s: seconds in the reference.
        match: match score, noise left out.
    """

    name: str
    start_s: float
    end_s: float
    match: float


MOST_PASSAGES: Final = 16
"""Passages that are scored apart (ours)."""

STEPS: Final[dict[str, tuple[float, str, float]]] = {
    "tone": (0.5, "dB", 0.9),
    "dynamics": (0.7, "dB", 0.7),
    "attack": (1.0, "dB", 0.6),
    "residual": (0.035, "", 0.15),
    "texture": (0.25, "dB", 3.5),
    "decay": (5.0, "dB", 0.5),
    "noise": (5.0, "dB", 1.5),
}
"""Step, unit and weight of each part (measured on toy amps, no listening test behind them)."""


def parts_of(figures: Figures) -> tuple[Part, ...]:
    """The figures with their steps and weights."""
    return tuple(
        Part(name, getattr(figures, name), unit, step, weight, getattr(figures, name) / step)
        for name in PARTS
        for step, unit, weight in (STEPS[name],)
    )


def match_score(figures: Figures) -> float:
    """100 / (1 + (D / 6)^2), D the weighted Euclidean sum of the parts in steps.

    Distances between timbres behave as Euclidean ones over a few dimensions [McAdams1995]; the form is smooth and
    quadratic at the top, and never flat far away.
    """
    distance_squared = sum(part.weight * part.steps**2 for part in parts_of(figures))
    return 100.0 / (1.0 + distance_squared / HALF_SCORE_STEPS**2)


def score_with_error(traces: Traces) -> tuple[float, float]:
    """Match score of a pair and its standard error, by the jackknife over ten stretches of time [Tukey1958]."""
    left = np.array([match_score(figures_of(traces, without(traces, stretch))) for stretch in range(STRETCHES)])
    error = np.sqrt((STRETCHES - 1) / STRETCHES * np.sum((left - left.mean()) ** 2))
    return match_score(figures_of(traces)), float(error)


def score_passages(traces: Traces, located: Located) -> tuple[PassageScore, ...]:
    """Match score of every passage that is played, noise left out; neighbours are taken together where there are many.

    Args:
        traces: of the pair.
        located: where the passages lie in the reference.
    """
    played = located.layout.of_kind("riff", "chord")
    together = -(-len(played) // MOST_PASSAGES)
    groups = [played[first : first + together] for first in range(0, len(played), together or 1)]
    return tuple(_passage_score(traces, located.start_s, group) for group in groups)


def _passage_score(traces: Traces, start_s: float, group: tuple[Passage, ...]) -> PassageScore:
    first, last = group[0], group[-1]
    kept = within(start_s + first.start_s, start_s + last.end_s)
    name = first.name if first is last else f"{first.name} to {last.name}"
    score = match_score(replace(figures_of(traces, kept), noise=0.0))
    return PassageScore(name, start_s + first.start_s, start_s + last.end_s, score)
