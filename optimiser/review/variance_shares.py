"""Shapley effects of independent inputs on a function's variance [Owen2014], from joint draws of the function.

Two independent points x and y are mixed setting by setting. With all 2^d mixes of a pair the differences between them
are the contrasts of a two-level design whose levels are random:

    c_T = 2^-d  sum over S of  (-1)^|S and T|  f(from y in S, from x elsewhere),
    E c_T^2 = sum over U containing T of  2^-|U|  var_U,

var_U being the variance owed to the settings U together and to no fewer. Solving for var_U and giving each setting an
equal part of every var_U that it belongs to, as Shapley effects do, leaves

    effect_i = sum over T containing i, |T| odd, of  (2 / |T|)  E c_T^2,

which is never negative and adds up to the variance. Beyond MOST_MIXED settings 2^d is too many and the mixes along one
random order of settings are used for each pair instead [Goda2021].
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import isqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray

MOST_MIXED: Final = 5
"""Settings up to which all mixes of a pair are looked at; beyond, too few pairs could be afforded (own choice)."""

_LEAST_SIDE: Final = 4


@dataclass(frozen=True)
class MixDesign:
    """Which mixes of pairs of points the function must be known at.

    Attributes:
        from_second: shape (pairs, mixes, d); whether a mix takes each setting from the pair's second point.
        orders: shape (pairs, d), the order in which settings are taken over along a walk; None when the mixes are all
            there are.
    """

    from_second: NDArray[np.bool_]
    orders: NDArray[np.intp] | None

    @property
    def pairs(self) -> int:
        """How many pairs of points are mixed."""
        return int(self.from_second.shape[0])

    @property
    def dimensions(self) -> int:
        """How many settings there are."""
        return int(self.from_second.shape[2])


def mix_design(dimensions: int, points: int, rng: np.random.Generator) -> MixDesign:
    """A design for `dimensions` settings with at most about `points` mixes, from a square number of pairs, at least 16.

    Raises:
        ValueError: no dimension.
    """
    if dimensions < 1:
        raise ValueError("variance shares need at least one setting")
    mixes_each = 2**dimensions if dimensions <= MOST_MIXED else dimensions + 1
    pairs = max(_LEAST_SIDE, isqrt(points // mixes_each)) ** 2
    if dimensions <= MOST_MIXED:
        mixes = np.array(list(product((False, True), repeat=dimensions)))
        return MixDesign(np.broadcast_to(mixes, (pairs, *mixes.shape)), None)
    orders = rng.permuted(np.tile(np.arange(dimensions), (pairs, 1)), axis=1)
    ranks = np.argsort(orders, axis=1)
    steps = np.arange(dimensions + 1)
    return MixDesign(ranks[:, None, :] < steps[None, :, None], orders)


def paired_evens(design: MixDesign, rng: np.random.Generator) -> NDArray[np.float64]:
    """Numbers from 0 to 1 for each setting, shape (d, 2 pairs): those of the first points, then of the second points.

    Drawn cell by cell: with 36 pairs, each of the 6 x 6 cells of a setting's first and second number holds one pair.
    What a setting does by itself, the larger part of most scores, is so met evenly.
    """
    side, pairs = isqrt(design.pairs), design.pairs
    cells = rng.permuted(np.tile(np.arange(pairs), (design.dimensions, 1)), axis=1)
    both = np.concatenate([cells % side, cells // side], axis=1)
    return np.asarray((both + rng.uniform(size=both.shape)) / side)


def shapley_effects(design: MixDesign, figures: NDArray[np.float64]) -> NDArray[np.float64]:
    """Variance owed to each setting.

    Args:
        design: the mixes.
        figures: the function at them, shape (draws, pairs, mixes).

    Returns:
        Shape (draws, d), in the function's unit squared; each row adds up to an estimate of the whole variance.
    """
    if design.orders is None:
        return _all_mixes(design.from_second[0], figures)
    return _walks(design.orders, figures)


def _all_mixes(mixes: NDArray[np.bool_], figures: NDArray[np.float64]) -> NDArray[np.float64]:
    both = mixes.astype(np.int64) @ mixes.T.astype(np.int64)
    signs = np.where(both % 2 == 0, 1.0, -1.0)
    contrasts = np.einsum("npm,tm->npt", figures, signs) / len(mixes)
    mean_squares = np.mean(contrasts**2, axis=1)
    sizes = mixes.sum(axis=1)
    weights = np.where(sizes % 2 == 1, 2.0 / np.maximum(sizes, 1), 0.0)
    return np.asarray(np.einsum("nt,t,ti->ni", mean_squares, weights, mixes.astype(np.float64)))


def _walks(orders: NDArray[np.intp], figures: NDArray[np.float64]) -> NDArray[np.float64]:
    before, after = figures[..., :-1], figures[..., 1:]
    gains = (figures[..., :1] - (before + after) / 2.0) * (before - after)
    draws, pairs, dimensions = gains.shape
    effects = np.zeros((draws, dimensions))
    for pair in range(pairs):
        effects[:, orders[pair]] += gains[:, pair]
    return np.asarray(effects / pairs)


def shares_of_variance(effects: NDArray[np.float64]) -> NDArray[np.float64]:
    """Effects of each row as shares that add up to 1; an even split where nothing varies.

    Negative estimates, which walks can give for settings of little effect, count as none.
    """
    kept = np.maximum(effects, 0.0)
    totals = kept.sum(axis=1, keepdims=True)
    even = np.full_like(kept, 1.0 / kept.shape[1])
    return np.where(totals > 0, kept / np.where(totals > 0, totals, 1.0), even)


def interval(shares: Sequence[float] | NDArray[np.float64], chance: float = 0.9) -> tuple[float, float]:
    """The middle `chance` of some shares."""
    tail = (1.0 - chance) / 2.0
    low, high = np.quantile(np.asarray(shares, dtype=np.float64), [tail, 1.0 - tail])
    return float(low), float(high)
