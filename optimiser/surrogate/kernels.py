"""Correlations between arrangements, one for each kind of setting.

A correlation is a small immutable object. `compare` looks at two sets of rows and keeps what does not depend on
hyperparameters; `correlate` turns that and the hyperparameters (logarithms and logits, shape (p,)) into correlations
of shape (n, m), and hands back the way from a derivative with respect to them, (n, m), to one with respect to the
hyperparameters, (p,).
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from typing import Protocol, cast

import numpy as np

from optimiser.surrogate.priors import Prior
from optimiser.surrogate.triangular import Array

Pullback = Callable[[Array], Array]
"""From d/d correlation, shape (n, m), to d/d hyperparameters, shape (p,)."""


class Correlation(Protocol):
    """What every kind of correlation offers; it is 1 between equal rows."""

    @property
    def priors(self) -> tuple[Prior, ...]:
        """One prior for each hyperparameter."""

    def compare(self, left: Array, right: Array) -> Array:
        """What rows (n, d) and (m, d) have between them, shape (features, n, m)."""

    def correlate(self, comparison: Array, hyper: Array) -> tuple[Array, Pullback]:
        """Correlations (n, m) and the pullback of their derivatives."""


def evaluate(correlation: Correlation, left: Array, right: Array, hyper: Array) -> Array:
    """Correlations between rows (n, d) and (m, d), shape (n, m)."""
    return correlation.correlate(correlation.compare(left, right), hyper)[0]


def matern52(squared: Array) -> tuple[Array, Array]:
    """(1 + s + s^2 / 3) exp(-s) with s = sqrt(5) r, and its derivative by r^2, from r^2 [Rasmussen2006]."""
    stretched = np.sqrt(5.0 * squared)
    decay = np.exp(-stretched)
    linear = 1.0 + stretched
    return (linear + (5.0 / 3.0) * squared) * decay, (-5.0 / 6.0) * linear * decay


def share(logit: float) -> float:
    """1 / (1 + exp(-logit)), between 0 and 1."""
    return float(1.0 / (1.0 + np.exp(-logit)))


@dataclass(frozen=True)
class Matern:
    """Matern-5/2 of r^2 = sum_c (x_c - y_c)^2 / scale_c^2: one learnt scale for each column [Rasmussen2006].

    Attributes:
        columns: indices of the columns.
        scale: prior of every scale, in the columns' own unit.
    """

    columns: tuple[int, ...]
    scale: Prior

    @property
    def priors(self) -> tuple[Prior, ...]:
        """One log scale for each column."""
        return (self.scale,) * len(self.columns)

    def compare(self, left: Array, right: Array) -> Array:
        """Squared differences, column by column."""
        return np.stack([_differences(left, right, column) ** 2 for column in self.columns])

    def correlate(self, comparison: Array, hyper: Array) -> tuple[Array, Pullback]:
        """Correlations and pullback."""
        inverse_squares = np.exp(-2.0 * hyper)
        value, slope = matern52(_weighted(inverse_squares, comparison))
        return value, lambda upstream: -2.0 * inverse_squares * _contract(comparison, upstream * slope)


@dataclass(frozen=True)
class Steps:
    """Matern-5/2 over ordered steps that stand unevenly far apart.

    r = sum of the gaps between the two steps, gap_s = 1 / scale_s, each scale learnt on its own.

    Attributes:
        column: index of the column that holds the step's number.
        levels: number of steps.
        scale: prior of every scale, in steps.
    """

    column: int
    levels: int
    scale: Prior

    @property
    def priors(self) -> tuple[Prior, ...]:
        """One log scale for each gap between neighbouring steps."""
        return (self.scale,) * (self.levels - 1)

    def compare(self, left: Array, right: Array) -> Array:
        """For each gap whether it lies between the two steps, 0 or 1."""
        edges = np.arange(self.levels - 1) + 0.5
        above_left = left[:, self.column, None] > edges
        above_right = right[:, self.column, None] > edges
        return cast(Array, (above_left.T[:, :, None] != above_right.T[:, None, :]).astype(float))

    def correlate(self, comparison: Array, hyper: Array) -> tuple[Array, Pullback]:
        """Correlations and pullback."""
        gaps = np.exp(-hyper)
        distance = _weighted(gaps, comparison)
        value, slope = matern52(distance**2)
        return value, lambda upstream: -gaps * _contract(comparison, upstream * slope * 2.0 * distance)


@dataclass(frozen=True)
class Shifted:
    """Matern-5/2 over a number whose whole curve moves along with ordered steps.

    r = |x + shift(x's step) - y - shift(y's step)| / scale, where shift(step) is the sum of the learnt moves, of either
    sign, up to that step. With moves of 0 it is the Matern of the number alone. A cliff that a harder driven stage
    brings to a lower gain is then one and the same cliff for all stages.

    Attributes:
        column: index of the number's column.
        stage: index of the column that holds the step's number.
        levels: number of steps.
        scale: prior of the scale, in the number's unit.
        move: prior of each step's move, in the number's unit.
    """

    column: int
    stage: int
    levels: int
    scale: Prior
    move: Prior

    @property
    def priors(self) -> tuple[Prior, ...]:
        """The log scale, then the move of each step."""
        return (self.scale,) + (self.move,) * (self.levels - 1)

    def compare(self, left: Array, right: Array) -> Array:
        """The number's difference, then for each step whether only the left (1) or only the right (-1) is above it."""
        edges = np.arange(self.levels - 1) + 0.5
        above_left = (left[:, self.stage] > edges[:, None]).astype(float)
        above_right = (right[:, self.stage] > edges[:, None]).astype(float)
        difference = _differences(left, right, self.column)[None]
        return np.concatenate([difference, above_left[:, :, None] - above_right[:, None, :]])

    def correlate(self, comparison: Array, hyper: Array) -> tuple[Array, Pullback]:
        """Correlations and pullback."""
        weights = np.concatenate([[1.0], hyper[1:]])
        inverse_square = float(np.exp(-2.0 * hyper[0]))
        apart = _weighted(weights, comparison)
        value, slope = matern52(inverse_square * apart**2)

        def pull(upstream: Array) -> Array:
            steep = upstream * slope * (2.0 * inverse_square) * apart
            return np.array([-_total(steep, apart), *_contract(comparison[1:], steep)])

        return value, pull


@dataclass(frozen=True)
class Alike:
    """Exchangeable alternatives: 1 when equal, else a learnt share [Swersky2013].

    Attributes:
        columns: columns that must all be equal.
        alike: prior of the correlation between two different alternatives.
    """

    columns: tuple[int, ...]
    alike: Prior

    @property
    def priors(self) -> tuple[Prior, ...]:
        """The logit of the correlation."""
        return (self.alike,)

    def compare(self, left: Array, right: Array) -> Array:
        """Whether the rows are equal, 0 or 1."""
        return _equal(left, right, self.columns)[None]

    def correlate(self, comparison: Array, hyper: Array) -> tuple[Array, Pullback]:
        """Correlations and pullback."""
        alike = share(hyper[0])
        different = 1.0 - comparison[0]
        value = comparison[0] + alike * different
        return value, lambda upstream: np.array([alike * (1.0 - alike) * _total(upstream, different)])


@dataclass(frozen=True)
class Described:
    """Alternatives that come with numbers, such as the coordinates of mic spots.

    own * [equal] + (1 - own) * Matern-5/2 of the numbers: neighbours share evidence, and each keeps an effect of its
    own that no coordinate explains.

    Attributes:
        index: column that holds the alternative's number.
        numbers: the Matern over the describing columns.
        own: prior of the share of the own effect.
    """

    index: int
    numbers: Matern
    own: Prior

    @property
    def priors(self) -> tuple[Prior, ...]:
        """The logit of the own share, then the scales of the describing columns."""
        return (self.own, *self.numbers.priors)

    def compare(self, left: Array, right: Array) -> Array:
        """Whether the rows are equal, then the squared differences of the describing columns."""
        equal = _equal(left, right, (self.index, *self.numbers.columns))
        return np.concatenate([equal[None], self.numbers.compare(left, right)])

    def correlate(self, comparison: Array, hyper: Array) -> tuple[Array, Pullback]:
        """Correlations and pullback."""
        own = share(hyper[0])
        smooth, pull_smooth = self.numbers.correlate(comparison[1:], hyper[1:])

        def pull(upstream: Array) -> Array:
            by_own = own * (1.0 - own) * _total(upstream, comparison[0] - smooth)
            return np.array([by_own, *((1.0 - own) * pull_smooth(upstream))])

        return own * comparison[0] + (1.0 - own) * smooth, pull


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
        value = np.exp(-_weighted(rates, comparison))

        def pull(upstream: Array) -> Array:
            by_pair = -rates * _contract(comparison, upstream * value)
            return np.array([by_pair.sum(), *by_pair])

        return value, pull


@dataclass(frozen=True)
class Existing:
    """A setting that exists only under a condition.

    common + (1 - common) * (both * inner + neither), where both and neither are 1 when it exists in both rows or in
    none: what its value is must not matter where it does not exist.

    Attributes:
        inner: correlation where the setting exists in both rows.
        active: column that holds 1 where it exists, else 0.
        common: correlation between a row with and one without it.
    """

    inner: Correlation
    active: int
    common: float

    @property
    def priors(self) -> tuple[Prior, ...]:
        """Those of the inner correlation."""
        return self.inner.priors

    def compare(self, left: Array, right: Array) -> Array:
        """Whether it exists in both, whether in neither, then the inner comparison."""
        here, there = left[:, self.active, None], right[None, :, self.active]
        exists = np.stack([here * there, (1.0 - here) * (1.0 - there)])
        return np.concatenate([exists, self.inner.compare(left, right)])

    def correlate(self, comparison: Array, hyper: Array) -> tuple[Array, Pullback]:
        """Correlations and pullback."""
        both, neither = comparison[0], comparison[1]
        inner, pull_inner = self.inner.correlate(comparison[2:], hyper)
        value = self.common + (1.0 - self.common) * (both * inner + neither)
        return value, lambda upstream: (1.0 - self.common) * pull_inner(upstream * both)


def _differences(left: Array, right: Array, column: int) -> Array:
    return left[:, column, None] - right[None, :, column]


def _equal(left: Array, right: Array, columns: tuple[int, ...]) -> Array:
    same = np.ones((len(left), len(right)), dtype=bool)
    for column in columns:
        same &= left[:, column, None] == right[None, :, column]
    return same.astype(float)


def _turns(rows: Array, first: int, second: int) -> Array:
    """1, 0 or -1: the first riff comes before, is tied with, or comes after the second."""
    return np.sign(rows[:, second] - rows[:, first])


def _weighted(weights: Array, comparison: Array) -> Array:
    return cast(Array, np.einsum("p,pnm->nm", weights, comparison))


def _contract(comparison: Array, upstream: Array) -> Array:
    return cast(Array, np.einsum("pnm,nm->p", comparison, upstream))


def _total(left: Array, right: Array) -> float:
    return float(np.einsum("nm,nm->", left, right))
