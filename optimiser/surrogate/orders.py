"""The correlation between orders of riffs."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from optimiser.surrogate.kernels import Pullback, contracted, weighted
from optimiser.surrogate.priors import Prior
from optimiser.surrogate.triangular import Array


@dataclass(frozen=True)
class Mallows:
    """exp(-sum over pairs of rate_pair * d_pair) over orders, a Mallows kernel with weighted pairs.

    d_pair is 0 when both orders play the pair the same way round, 1 when the other way round, and 1/2 when only one
    of them leaves the two tied, both being unplayed. With equal rates the sum is a rate times the Kendall distance
    [JiaoVert2015] [Deshwal2022]. On each pair it is a Laplace kernel over -1, 0, 1, hence positive definite.

    Attributes:
        columns: for each riff the column that holds its position.
        rate: prior of each pair's rate, given the rate that all share.
        shared: prior of the rate that all pairs share; the pairs' rates multiply it.
    """

    columns: tuple[int, ...]
    shared: Prior
    rate: Prior

    @property
    def priors(self) -> tuple[Prior, ...]:
        """The log of the shared rate, then the log of each pair's own factor."""
        pairs = len(self.columns) * (len(self.columns) - 1) // 2
        return (self.shared,) + (self.rate,) * pairs

    def compare(self, left: Array, right: Array) -> Array:
        """For each pair 0, 1/2 or 1."""
        return np.stack(
            [
                np.abs(_turns(left, first, second)[:, None] - _turns(right, first, second)[None, :]) / 2.0
                for first, second in combinations(self.columns, 2)
            ]
        )

    def correlate(self, comparison: Array, hyper: Array) -> tuple[Array, Pullback]:
        """Correlations and pullback."""
        rates = np.exp(hyper[0] + hyper[1:])
        value = np.exp(-weighted(rates, comparison))

        def pull(upstream: Array) -> Array:
            by_pair = -rates * contracted(comparison, upstream * value)
            return np.array([by_pair.sum(), *by_pair])

        return value, pull


def _turns(rows: Array, first: int, second: int) -> Array:
    """1, 0 or -1: the first riff comes before, is tied with, or comes after the second."""
    return np.sign(rows[:, second] - rows[:, first])
