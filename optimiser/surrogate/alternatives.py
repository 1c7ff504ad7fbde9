"""Correlations between unordered alternatives, and of settings that do not always exist."""

from dataclasses import dataclass

import numpy as np

from optimiser.surrogate.kernels import Correlation, Matern, Pullback, total
from optimiser.surrogate.priors import Prior
from optimiser.surrogate.triangular import Array


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
        alike = _share(hyper[0])
        different = 1.0 - comparison[0]
        value = comparison[0] + alike * different
        return value, lambda upstream: np.array([alike * (1.0 - alike) * total(upstream, different)])


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
        own = _share(hyper[0])
        smooth, pull_smooth = self.numbers.correlate(comparison[1:], hyper[1:])

        def pull(upstream: Array) -> Array:
            by_own = own * (1.0 - own) * total(upstream, comparison[0] - smooth)
            return np.array([by_own, *((1.0 - own) * pull_smooth(upstream))])

        return own * comparison[0] + (1.0 - own) * smooth, pull


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


def _share(logit: float) -> float:
    """1 / (1 + exp(-logit)), between 0 and 1."""
    return float(1.0 / (1.0 + np.exp(-logit)))


def _equal(left: Array, right: Array, columns: tuple[int, ...]) -> Array:
    same = np.ones((len(left), len(right)), dtype=bool)
    for column in columns:
        same &= left[:, column, None] == right[None, :, column]
    return same.astype(float)
