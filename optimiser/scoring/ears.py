"""Weights of the parts that predict a practitioner's own ratings, and whether they do so better than the shipped ones.

36 (100 / score - 1) is linear in the weights, so that rated pairs give them by non-negative least squares
[Lawson1974]. Errors count in points: each pass takes the score as linear round the last weights (delta method), which
also keeps a rating of 0, whose distance would be infinite, finite.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import astuple, dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.errors import BadInput
from optimiser.scoring.figures import PARTS
from optimiser.scoring.match_score import HALF_SCORE_STEPS, SHIPPED_WEIGHTS, PartWeights

LEAST_PAIRS: Final = 10
"""Rated pairs below which seven weights are not fitted (ours)."""

ENOUGH_PAIRS: Final = 40
"""Rated pairs from which a fit is worth trusting (ours, 40 to 60 should be enough; no listening test behind it)."""

FOLDS: Final = 10
"""Parts into which many pairs are divided for cross-validation [Stone1974]; few are left out one by one (ours)."""

RATING_SE: Final = 10.0
"""Points by which one rating is unsure: one step of the ear rating (common practice, no source)."""

WEIGHT_SPREAD: Final = 1.0
"""Standard deviation of a weight round the shipped one before anything is rated; 1 is about their mean (ours)."""

HOW_TO_RATE: Final = (
    "Small differences: listen to the reference openly, then to reference and capture at one loudness without knowing "
    "which is which, and rate the one you take for the capture; 10 is no difference (after ITU-R BS.1116-3).",
    "Plain differences: rate several captures side by side, with the reference hidden among them (after ITU-R "
    "BS.1534-3).",
)
"""What a rater should do: grading against an open reference with a hidden one [BS1116], several at once with a
hidden reference [BS1534]."""

_MOST_PASSES: Final = 50
_SETTLED_POINTS: Final = 1e-9
_SMALLEST_STRIDE: Final = 1e-4

_Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Rated:
    """One pair that was measured and listened to.

    Attributes:
        steps: every part's steps, by its name.
        rating: how alike the two sounded, 0 to 100.
        rating_se: its standard error in points; how much the pair counts follows from it.

    Raises:
        BadInput: a part that is missing or unknown, a figure that cannot be.
    """

    steps: Mapping[str, float]
    rating: float
    rating_se: float = RATING_SE

    def __post_init__(self) -> None:
        if set(self.steps) != set(PARTS):
            raise BadInput("A rated pair needs the steps of every part.", f"Parts are {', '.join(PARTS)}.")
        if not all(math.isfinite(step) for step in self.steps.values()):
            raise BadInput("A rated pair has steps that are no number.", "Measure it again.")
        if not 0.0 <= self.rating <= 100.0:
            raise BadInput(f"A rating cannot be {self.rating:g}.", "Give 0 to 100.")
        if not (math.isfinite(self.rating_se) and self.rating_se > 0.0):
            raise BadInput(f"A rating's standard error cannot be {self.rating_se:g}.", "Give a number above 0.")


@dataclass(frozen=True)
class EarFit:
    """Weights fitted to ratings, and how well they predict ratings that they were not fitted to.

    Attributes:
        weights: of the parts.
        pairs: how many rated pairs there were.
        rms: cross-validated rms error of the fitted weights in points.
        shipped_rms: rms error of the shipped weights on the same pairs.
        plain_rms: cross-validated rms error of one and the same guess for all, the mean rating.
        rank_correlation: Spearman's, of ratings and cross-validated scores; None where either never varies.
        shipped_rank_correlation: the same of the shipped weights.
        gain: points by which `rms` is lower than `shipped_rms`.
        gain_se: its standard error over the pairs.
        better: whether the fitted weights beat the shipped ones, and the plain guess, by more than the standard error
            of each gain.
        warning: what is doubtful about the fit, may be empty.
    """

    weights: PartWeights
    pairs: int
    rms: float
    shipped_rms: float
    plain_rms: float
    rank_correlation: float | None
    shipped_rank_correlation: float | None
    gain: float
    gain_se: float
    better: bool
    warning: str


@dataclass(frozen=True)
class _Listened:
    """Rated pairs as arrays: (n, 7) squared steps, (n,) ratings, (n,) points by which one rating is unsure."""

    squares: _Numbers
    ratings: _Numbers
    rating_se: _Numbers

    def at(self, rows: NDArray[np.intp]) -> "_Listened":
        return _Listened(self.squares[rows], self.ratings[rows], self.rating_se[rows])


def fit_weights(rated: Sequence[Rated]) -> EarFit:
    """Weights that predict the ratings, drawn towards the shipped ones where the ratings say little.

    Raises:
        BadInput: fewer than ten pairs.
    """
    if len(rated) < LEAST_PAIRS:
        raise BadInput(
            f"Rated pairs: {len(rated)}; that is too few to fit seven weights.",
            f"Rate at least {LEAST_PAIRS}, better {ENOUGH_PAIRS} to 60.",
        )
    pairs = _listened(rated)
    fitted, plain = _left_out(pairs)
    shipped = _scores(pairs.squares, _shipped())
    errors = [guess - pairs.ratings for guess in (fitted, shipped, plain)]
    rms, shipped_rms, plain_rms = (float(np.sqrt(np.mean(error**2))) for error in errors)
    gain, gain_se = _gain(errors[1], errors[0])
    over_plain, over_plain_se = _gain(errors[2], errors[0])
    few = len(rated) < ENOUGH_PAIRS
    return EarFit(
        PartWeights(*_fitted(pairs).tolist()),
        len(rated),
        rms,
        shipped_rms,
        plain_rms,
        _rank_correlation(fitted, pairs.ratings),
        _rank_correlation(shipped, pairs.ratings),
        gain,
        gain_se,
        gain > gain_se and over_plain > over_plain_se,
        f"{len(rated)} rated pairs are few; {ENOUGH_PAIRS} to 60 should be enough (our guess)." if few else "",
    )


def _listened(rated: Sequence[Rated]) -> _Listened:
    """The pairs in an order that follows from themselves."""
    rows = sorted((pair.rating, pair.rating_se, *(pair.steps[name] for name in PARTS)) for pair in rated)
    table = np.array(rows, dtype=np.float64)
    return _Listened(table[:, 2:] ** 2, table[:, 0], table[:, 1])


def _shipped() -> _Numbers:
    return np.array(astuple(SHIPPED_WEIGHTS))


def score_at(distance_squared: _Numbers) -> _Numbers:
    """Score of squared distances in steps."""
    return 100.0 / (1.0 + distance_squared / HALF_SCORE_STEPS**2)


def slope_at(distance_squared: _Numbers) -> _Numbers:
    """Points by which a score changes with the squared distance."""
    return -((score_at(distance_squared) / HALF_SCORE_STEPS) ** 2) / 100.0


def _scores(squares: _Numbers, weights: _Numbers) -> _Numbers:
    return score_at(squares @ weights)


def _cost(pairs: _Listened, weights: _Numbers) -> float:
    """Squared errors over squared standard errors, and the distance from the shipped weights likewise."""
    missed = (_scores(pairs.squares, weights) - pairs.ratings) / pairs.rating_se
    moved = (weights - _shipped()) / WEIGHT_SPREAD
    return float(missed @ missed + moved @ moved)


def _fitted(pairs: _Listened) -> _Numbers:
    """Gauss-Newton, each pass one problem of non-negative least squares, halved until it helps."""
    weights = _shipped()
    cost = _cost(pairs, weights)
    for _ in range(_MOST_PASSES):
        towards = _pass(pairs, weights) - weights
        stride, trial, found = 1.0, weights, cost
        while stride > _SMALLEST_STRIDE:
            trial = weights + stride * towards
            found = _cost(pairs, trial)
            if found < cost:
                break
            stride /= 2.0
        if not cost - found > _SETTLED_POINTS:
            break
        weights, cost = trial, found
    return weights


def _pass(pairs: _Listened, weights: _Numbers) -> _Numbers:
    """The best weights if scores were linear in them as they are round `weights`; prior rows as a ridge [Hoerl1970]."""
    from scipy.optimize import nnls

    distance_squared = pairs.squares @ weights
    slope = slope_at(distance_squared) / pairs.rating_se
    wanted = (pairs.ratings - score_at(distance_squared)) / pairs.rating_se + slope * distance_squared
    rows = np.vstack([slope[:, None] * pairs.squares, np.eye(len(weights)) / WEIGHT_SPREAD])
    best, _ = nnls(rows, np.concatenate([wanted, _shipped() / WEIGHT_SPREAD]))
    return np.asarray(best, dtype=np.float64)


def _left_out(pairs: _Listened) -> tuple[_Numbers, _Numbers]:
    """Scores of every pair by weights fitted to others, and the mean rating of those others."""
    many = len(pairs.ratings)
    folds = FOLDS if many >= ENOUGH_PAIRS else many
    fold = np.arange(many) % folds
    fitted, plain = np.empty(many), np.empty(many)
    for left in range(folds):
        out, kept = np.flatnonzero(fold == left), np.flatnonzero(fold != left)
        fitted[out] = _scores(pairs.squares[out], _fitted(pairs.at(kept)))
        plain[out] = pairs.ratings[kept].mean()
    return fitted, plain


def _gain(error: _Numbers, lower: _Numbers) -> tuple[float, float]:
    """By how much the rms of the second errors is lower, and the standard error of that (delta method)."""
    rms, lower_rms = np.sqrt(np.mean(error**2)), np.sqrt(np.mean(lower**2))
    shares = error**2 / (2.0 * max(rms, 1e-12)) - lower**2 / (2.0 * max(lower_rms, 1e-12))
    return float(rms - lower_rms), float(shares.std(ddof=1) / np.sqrt(len(shares)))


def _rank_correlation(guess: _Numbers, ratings: _Numbers) -> float | None:
    from scipy.stats import spearmanr

    if np.ptp(guess) == 0.0 or np.ptp(ratings) == 0.0:
        return None
    return float(spearmanr(guess, ratings).statistic)
