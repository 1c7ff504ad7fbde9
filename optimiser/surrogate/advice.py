"""A belief that starts from earlier ones: what they hold true, as far as it holds here, and what differs.

    f = sum over advisers i of slope_i g_i + d

where g_i is the adviser's own belief, mean and doubt alike, in its standard units, and d is a Gaussian process of its
own. It is the kernel of several tasks [Swersky2013] conditioned on the advisers' trials first [Tighineanu2024]: they
speak with the scales that they learnt, and only what is left to learn is learnt from the new trials. Every slope and
the size of d are learnt; where an adviser misleads, its slope falls.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final, TypeVar

import numpy as np

from optimiser.surrogate.covariance import Covariance
from optimiser.surrogate.fitting import Fitted
from optimiser.surrogate.kernels import Pullback, total
from optimiser.surrogate.likelihood import CONSTANT_VARIANCE
from optimiser.surrogate.priors import Prior
from optimiser.surrogate.trend import Trend
from optimiser.surrogate.triangular import Array, lower_times, times

SLOPE: Final = Prior.of_scale(0.7, 1.0)
"""Of each slope, new standard units for one of the adviser's (a choice, no source)."""

Mark = TypeVar("Mark")
Found = TypeVar("Found")

REMEMBERED: Final = 40
"""Sets of rows of which an adviser remembers what it holds."""

OWN: Final = Prior.of_scale(1.0, 1.0)
"""Of the factor on the variance of what differs. With a median of 0.5 the outlook was too sure, with 2 hunts took
longer (tuning draw of studies/advisers)."""


@dataclass(frozen=True)
class _Seen:
    """What an adviser holds of some rows: whitened covariances with its own trials, and means, for each member."""

    whitened: tuple[Array, ...]
    means: Array


@dataclass(frozen=True)
class Advice:
    """What an earlier belief holds of rows, in its own standard units, its members taken together.

    Attributes:
        name: of the adviser.
        fitted: the earlier belief, over the new study's rows.
    """

    name: str
    fitted: Fitted
    _known: dict[bytes, _Seen] = field(default_factory=dict, repr=False, compare=False)
    _pairs: dict[tuple[bytes, bytes], Array] = field(default_factory=dict, repr=False, compare=False)

    def mean(self, rows: Array) -> Array:
        """What it expects, shape (m,)."""
        return np.asarray(self._seen(rows).means.mean(axis=0))

    def covariance(self, left: Array, right: Array) -> Array:
        """How its doubts move together, shape (n, m)."""
        return _remembered(self._pairs, (left.tobytes(), right.tobytes()), lambda: self._covariance(left, right))

    def _covariance(self, left: Array, right: Array) -> Array:
        here, there = self._seen(left), self._seen(right)
        priors = self._priors(left, right)
        count = len(priors)
        found = np.zeros((len(left), len(right)))
        for prior, one, other in zip(priors, here.whitened, there.whitened, strict=True):
            found += (prior - times(one.T.copy(), other)) / count
        apart = [seen.means - seen.means.mean(axis=0) for seen in (here, there)]
        return np.asarray(found + np.einsum("kn,km->nm", *apart) / count)

    def variance(self, rows: Array) -> Array:
        """The square of its doubt, shape (m,)."""
        seen, size = self._seen(rows), len(self.fitted.kernel.priors)
        found = seen.means.var(axis=0)
        for member, whitened in zip(self.fitted.members, seen.whitened, strict=True):
            prior = self.fitted.kernel.variance(member.hyper[:size]) + CONSTANT_VARIANCE
            found += np.maximum(prior - np.einsum("nm,nm->m", whitened, whitened), 0.0) / len(self.fitted.members)
        return np.asarray(found)

    def _priors(self, left: Array, right: Array) -> list[Array]:
        """Covariances before any trial, (n, m), under each member."""
        kernel = self.fitted.kernel
        comparisons, size = kernel.compare(left, right), len(kernel.priors)
        return [
            kernel.covariance(comparisons, member.hyper[:size]) + CONSTANT_VARIANCE for member in self.fitted.members
        ]

    def _seen(self, rows: Array) -> _Seen:
        return _remembered(self._known, rows.tobytes(), lambda: self._looked(rows))

    def _looked(self, rows: Array) -> _Seen:
        crosses = self._priors(self.fitted.observations.rows, rows)
        parts = [
            (lower_times(member.conditioned.whitener, cross), member.conditioned.mean(cross))
            for member, cross in zip(self.fitted.members, crosses, strict=True)
        ]
        return _Seen(tuple(part[0] for part in parts), np.stack([part[1] for part in parts]))


def _remembered(known: dict[Mark, Found], mark: Mark, work_out: Callable[[], Found]) -> Found:
    """What was worked out for the same rows just before, or is now; members ask of the same rows one by one."""
    if mark not in known:
        if len(known) >= REMEMBERED:
            known.clear()
        known[mark] = work_out()
    return known[mark]


@dataclass(frozen=True)
class AdvisedKernel:
    """k(x, y) = own * inner(x, y) + sum over i of slope_i^2 * cov_i(x, y), cov_i being an adviser's remaining doubt.

    Attributes:
        inner: covariance of what differs from the advisers, before its size is learnt.
        advices: what the advisers hold.
    """

    inner: Covariance
    advices: tuple[Advice, ...]

    @cached_property
    def priors(self) -> tuple[Prior, ...]:
        """Those of the inner covariance, that of its size, one for each slope."""
        return (*self.inner.priors, OWN, *(SLOPE for _ in self.advices))

    def compare(self, left: Array, right: Array) -> tuple[Array, ...]:
        """The inner comparisons, then every adviser's covariance."""
        doubts = (advice.covariance(left, right) for advice in self.advices)
        return (*self.inner.compare(left, right), *doubts)

    def covariance(self, comparisons: Sequence[Array], hyper: Array) -> Array:
        """Covariances (n, m)."""
        inner, doubts = self._parted(comparisons)
        size = len(self.inner.priors)
        value = np.exp(hyper[size]) * self.inner.covariance(inner, hyper[:size])
        return np.asarray(value + _weighted(np.exp(2.0 * hyper[size + 1 :]), doubts))

    def covary(self, comparisons: Sequence[Array], hyper: Array) -> tuple[Array, Pullback]:
        """Covariances and pullback."""
        inner, doubts = self._parted(comparisons)
        size = len(self.inner.priors)
        own, squares = float(np.exp(hyper[size])), np.exp(2.0 * hyper[size + 1 :])
        value, pull_inner = self.inner.covary(inner, hyper[:size])

        def pull(upstream: Array) -> Array:
            by_slope = [2.0 * square * total(upstream, doubt) for square, doubt in zip(squares, doubts, strict=True)]
            return np.array([*pull_inner(own * upstream), own * total(upstream, value), *by_slope])

        return np.asarray(own * value + _weighted(squares, doubts)), pull

    def _parted(self, comparisons: Sequence[Array]) -> tuple[Sequence[Array], Sequence[Array]]:
        """The inner comparisons, and the advisers' covariances."""
        end = len(comparisons) - len(self.advices)
        return comparisons[:end], comparisons[end:]

    def alone(self, rows: Array) -> tuple[Array, ...]:
        """Every adviser's variance."""
        return tuple(advice.variance(rows) for advice in self.advices)

    def variance(self, hyper: Array, alone: Sequence[Array] = ()) -> Array | float:
        """The variance at each row, (m,)."""
        size = len(self.inner.priors)
        own = np.exp(hyper[size]) * self.inner.variance(hyper[:size])
        return np.asarray(own + _weighted(np.exp(2.0 * hyper[size + 1 :]), alone))

    def weights(self, hyper: Array) -> Array:
        """Share of what is believed of the scores' variation that each adviser and, last, the rest stand for."""
        size = len(self.inner.priors)
        own = np.exp(hyper[size]) * self.inner.variance(hyper[:size])
        parts = np.array([*np.exp(2.0 * hyper[size + 1 : size + 1 + len(self.advices)]), float(own)])
        return np.asarray(parts / parts.sum())


def _weighted(weights: Array, parts: Sequence[Array]) -> Array:
    """The sum of arrays of one shape by their weights."""
    return np.asarray(sum(weight * part for weight, part in zip(weights, parts, strict=True)))


@dataclass(frozen=True)
class AdvisedTrend(Trend):
    """A trend with the advisers' expectations times the kernel's slopes on top.

    Attributes:
        places: places of the advisers' slopes among all hyperparameters.
    """

    places: tuple[int, ...] = ()

    def scaled(self, scale: float) -> "AdvisedTrend":
        """The same trend of values that are divided by `scale`; the advisers' slopes have no unit."""
        plain = Trend(self.features, self.slopes).scaled(scale)
        return AdvisedTrend(plain.features, plain.slopes, self.places)

    def mean(self, features: Array, hyper: Array) -> Array:
        """The trend (m,)."""
        plain, advised = self._parted(features)
        slopes = np.exp(hyper[list(self.places)])
        return np.asarray(super().mean(plain, hyper) + np.einsum("mi,i->m", advised, slopes))

    def pull(self, features: Array, hyper: Array, upstream: Array) -> Array:
        """From d/d mean to d/d hyperparameters."""
        plain, advised = self._parted(features)
        found: Array = super().pull(plain, hyper, upstream)
        found[list(self.places)] += np.exp(hyper[list(self.places)]) * np.einsum("mi,m->i", advised, upstream)
        return found

    def _parted(self, features: Array) -> tuple[Array, Array]:
        count = len(self.slopes)
        return features[:, :count], features[:, count:]


@dataclass(frozen=True)
class _Together:
    features: Callable[[Array], Array]
    advices: tuple[Advice, ...]

    def __call__(self, rows: Array) -> Array:
        return np.column_stack([self.features(rows), *(advice.mean(rows) for advice in self.advices)])


def advised(kernel: Covariance, trend: Trend, advices: Sequence[Advice]) -> tuple[Covariance, Trend]:
    """Covariance and trend of a belief that starts from earlier ones; as they were where there are none."""
    if not advices:
        return kernel, trend
    start = len(kernel.priors) + 1
    features = _Together(trend.features, tuple(advices))
    return AdvisedKernel(kernel, tuple(advices)), AdvisedTrend(
        features, trend.slopes, tuple(range(start, start + len(advices)))
    )


def weights_of(covariance: Covariance, hypers: Sequence[Array]) -> dict[str, float]:
    """Share of each adviser, averaged over hyperparameters; with that of what differs they add up to 1."""
    if not isinstance(covariance, AdvisedKernel):
        return {}
    shares = np.mean([covariance.weights(hyper) for hyper in hypers], axis=0).tolist()
    return {advice.name: share for advice, share in zip(covariance.advices, shares[:-1], strict=True)}
