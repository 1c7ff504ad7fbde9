"""What a correlation between arrangements is, and those of numbers and ordered steps.

A correlation is a small immutable object. `compare` looks at two sets of rows and keeps what does not depend on
hyperparameters; `correlate` turns that and the hyperparameters (logarithms and logits, shape (p,)) into correlations
of shape (n, m), and hands back the way from a derivative with respect to them, (n, m), to one with respect to the
hyperparameters, (p,).
"""

from collections.abc import Callable
from dataclasses import dataclass
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


def matern52(squared: Array) -> tuple[Array, Callable[[], Array]]:
    """(1 + s + s^2 / 3) exp(-s) with s = sqrt(5) r, from r^2, and what gives its derivative by r^2 [Rasmussen2006]."""
    linear = 5.0 * squared
    np.sqrt(linear, out=linear)
    decay = np.negative(linear)
    np.exp(decay, out=decay)
    linear += 1.0
    value = (5.0 / 3.0) * squared
    value += linear
    value *= decay
    return value, lambda: (-5.0 / 6.0) * linear * decay


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
        return np.stack([differences(left, right, column) ** 2 for column in self.columns])

    def correlate(self, comparison: Array, hyper: Array) -> tuple[Array, Pullback]:
        """Correlations and pullback."""
        inverse_squares = np.exp(-2.0 * hyper)
        value, slope = matern52(weighted(inverse_squares, comparison))
        return value, lambda upstream: -2.0 * inverse_squares * contracted(comparison, upstream * slope())


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
        distance = weighted(gaps, comparison)
        value, slope = matern52(distance**2)
        return value, lambda upstream: -gaps * contracted(comparison, upstream * slope() * 2.0 * distance)


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
        difference = differences(left, right, self.column)[None]
        return np.concatenate([difference, above_left[:, :, None] - above_right[:, None, :]])

    def correlate(self, comparison: Array, hyper: Array) -> tuple[Array, Pullback]:
        """Correlations and pullback."""
        weights = np.concatenate([[1.0], hyper[1:]])
        inverse_square = float(np.exp(-2.0 * hyper[0]))
        apart = weighted(weights, comparison)
        value, slope = matern52(inverse_square * apart**2)

        def pull(upstream: Array) -> Array:
            steep = upstream * slope() * (2.0 * inverse_square) * apart
            return np.array([-total(steep, apart), *contracted(comparison[1:], steep)])

        return value, pull


def differences(left: Array, right: Array, column: int) -> Array:
    """Differences (n, m) of one column between rows (n, d) and (m, d)."""
    return left[:, column, None] - right[None, :, column]


def weighted(weights: Array, comparison: Array) -> Array:
    """Sum (n, m) of features (p, n, m) by their weights (p,)."""
    return cast(Array, np.einsum("p,pnm->nm", weights, comparison))


def contracted(comparison: Array, upstream: Array) -> Array:
    """For each feature of (p, n, m) its sum of products with (n, m), shape (p,)."""
    return cast(Array, np.einsum("pnm,nm->p", comparison, upstream))


def total(left: Array, right: Array) -> float:
    """Sum of products of two arrays (n, m)."""
    return float(np.einsum("nm,nm->", left, right))
