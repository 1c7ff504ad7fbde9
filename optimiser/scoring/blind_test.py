"""What a blind test says: how often guessing does as well, and how far apart two sounds lie."""

import math
from collections.abc import Mapping
from statistics import NormalDist
from typing import Final

import numpy as np

from optimiser.errors import BadInput
from optimiser.scoring.ears import Rated, score_at, slope_at

DISCRIMINATED: Final = 0.75
"""Share of right answers between two alternatives at which a difference is one step [Green1966]."""


def steps_from_blind_test(correct: int, tries: int) -> tuple[float, float]:
    """How many steps apart two sounds are when they are told apart so often, and the standard error of that.

    z(p) / z(0.75) for the share p of right answers between two alternatives [Green1966], p with half an answer added
    on either side so that none or all right stay finite [Hautus1995]; worse than guessing is 0 steps. An ABX test is
    harder than a choice between two alternatives, so that its answers give too few steps.

    Args:
        correct: right answers.
        tries: answers, of which half would be right by guessing.

    Raises:
        BadInput: no tries, or more right answers than tries.
    """
    _check_answers(correct, tries)
    normal, answers = NormalDist(), tries + 1.0
    share = (correct + 0.5) / answers
    deviate = normal.inv_cdf(share)
    unit = normal.inv_cdf(DISCRIMINATED)
    error = math.sqrt(share * (1.0 - share) / answers) / normal.pdf(deviate)
    return max(0.0, deviate / unit), error / unit


def chance_of_guessing(correct: int, tries: int) -> float:
    """How often someone who only guesses gets that many right or more: a one-sided binomial test [Clark1982].

    Args:
        correct: right answers.
        tries: answers, of which half would be right by guessing.

    Raises:
        BadInput: no tries, or more right answers than tries.
    """
    from scipy.stats import binom

    _check_answers(correct, tries)
    return float(binom.sf(correct - 1, tries, 0.5))


def _check_answers(correct: int, tries: int) -> None:
    if not 0 <= correct <= tries or tries < 1:
        raise BadInput(f"{correct} right of {tries} cannot be.", "Give right answers, then all answers.")


def rated_by_blind_test(steps: Mapping[str, float], correct: int, tries: int) -> Rated:
    """A pair whose rating follows from a blind test: the score of so many steps, its error by the delta method.

    Args:
        steps: every part's steps, by its name.
        correct: right answers.
        tries: answers, of which half would be right by guessing.

    Raises:
        BadInput: no tries, or more right answers than tries.
    """
    distance, error = steps_from_blind_test(correct, tries)
    rating = float(score_at(np.array(distance**2)))
    doubtful = max(distance, error)
    slope = 2.0 * doubtful * float(slope_at(np.array(doubtful**2)))
    return Rated(steps, rating, abs(slope) * error)
