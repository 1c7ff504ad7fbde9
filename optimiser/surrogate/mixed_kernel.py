"""One covariance over all settings: each on its own, some together, and all of them at once, with learnt weights."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from optimiser.surrogate.kernels import Correlation, Pullback
from optimiser.surrogate.priors import Prior
from optimiser.surrogate.triangular import Array


@dataclass(frozen=True)
class Term:
    """One part of the sum: a weight times the product of some correlations.

    Attributes:
        members: indices of the correlations that are multiplied.
        weight: prior of the weight, a variance.
    """

    members: tuple[int, ...]
    weight: Prior


@dataclass(frozen=True)
class MixedKernel:
    """k(x, y) = sum over terms t of weight_t * product over b in t of c_b(x, y).

    Terms of one member are additive parts [Duvenaud2011]; the term of all members is the product kernel. They share
    the correlations c_b, so that each setting keeps one set of scales.

    Attributes:
        correlations: c_b.
        terms: the sum's parts.
    """

    correlations: tuple[Correlation, ...]
    terms: tuple[Term, ...]

    @cached_property
    def priors(self) -> tuple[Prior, ...]:
        """Those of each correlation in turn, then those of the log weights."""
        inner = tuple(prior for correlation in self.correlations for prior in correlation.priors)
        return inner + tuple(term.weight for term in self.terms)

    @cached_property
    def _slices(self) -> tuple[slice, ...]:
        ends = np.cumsum([0, *(len(correlation.priors) for correlation in self.correlations)]).tolist()
        return tuple(slice(start, end) for start, end in pairwise(ends))

    def compare(self, left: Array, right: Array) -> tuple[Array, ...]:
        """What does not depend on hyperparameters between rows (n, d) and (m, d)."""
        return tuple(correlation.compare(left, right) for correlation in self.correlations)

    def covariance(self, comparisons: Sequence[Array], hyper: Array) -> Array:
        """Covariances (n, m)."""
        return self._summed([value for value, _ in self._correlated(comparisons, hyper)], self.weights(hyper))

    def covary(self, comparisons: Sequence[Array], hyper: Array) -> tuple[Array, Pullback]:
        """Covariances (n, m) and the pullback of their derivatives to the hyperparameters (p,)."""
        results = self._correlated(comparisons, hyper)
        values = [value for value, _ in results]
        weights = self.weights(hyper)

        def pull(upstream: Array) -> Array:
            gradient = np.empty(len(hyper))
            for b, (_, pull_one) in enumerate(results):
                gradient[self._slices[b]] = pull_one(self._by_correlation(b, values, weights, upstream))
            product = np.empty_like(upstream)
            by_weight = [
                np.einsum("nm,nm->", upstream, _product([values[b] for b in term.members], product))
                for term in self.terms
            ]
            gradient[len(hyper) - len(self.terms) :] = weights * by_weight
            return gradient

        return self._summed(values, weights), pull

    def _correlated(self, comparisons: Sequence[Array], hyper: Array) -> list[tuple[Array, Pullback]]:
        return [
            correlation.correlate(comparison, hyper[part])
            for correlation, comparison, part in zip(self.correlations, comparisons, self._slices, strict=True)
        ]

    def _summed(self, values: Sequence[Array], weights: Array) -> Array:
        """The sum of all terms; one product at a time is at hand, since hundreds of trials make large ones."""
        covariance = np.zeros_like(values[0])
        product = np.empty_like(values[0])
        for weight, term in zip(weights, self.terms, strict=True):
            covariance += np.multiply(_product([values[b] for b in term.members], product), weight, out=product)
        return covariance

    def weights(self, hyper: Array) -> Array:
        """Variance of each term, shape (terms,)."""
        return np.exp(hyper[len(hyper) - len(self.terms) :])

    def alone(self, rows: Array) -> tuple[Array, ...]:  # noqa: ARG002
        """Nothing: the variance is the same everywhere."""
        return ()

    def variance(self, hyper: Array, alone: Sequence[Array] = ()) -> float:  # noqa: ARG002
        """k(x, x): the sum of the weights."""
        return float(self.weights(hyper).sum())

    def _by_correlation(self, b: int, values: Sequence[Array], weights: Array, upstream: Array) -> Array:
        """`upstream` times the covariance's derivative by the correlation c_b."""
        total = np.zeros_like(values[b])
        product = np.empty_like(values[b])
        for weight, term in zip(weights, self.terms, strict=True):
            if b in term.members:
                others = [values[other] for other in term.members if other != b]
                total += np.multiply(_product(others, product), weight, out=product) if others else weight
        return np.multiply(upstream, total, out=total)


def _product(values: Sequence[Array], out: Array) -> Array:
    """The product of some arrays, one of them as it is, of several in `out`."""
    result = values[0]
    for value in values[1:]:
        result = np.multiply(result, value, out=out)
    return result
