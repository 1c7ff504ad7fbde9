"""Conditioning a Gaussian process on what was measured, from covariance matrices alone."""

import math
from dataclasses import dataclass
from typing import cast

import numpy as np

from optimiser.surrogate.triangular import Array, cholesky, gram, invert_lower, lower_times, times


@dataclass(frozen=True)
class Conditioned:
    """A Gaussian process that has seen n values [Rasmussen2006] algorithm 2.1.

    Attributes:
        whitener: inverse of the Cholesky factor of the values' covariance, shape (n, n).
        coefficients: inverse covariance times values, shape (n,).
        log_evidence: log probability of the values before they were seen.
    """

    whitener: Array
    coefficients: Array
    log_evidence: float

    def mean(self, cross: Array) -> Array:
        """Posterior mean, shape (m,), from covariances (n, m) between values seen and wanted."""
        return cast(Array, np.einsum("nm,n->m", cross, self.coefficients))

    def variance(self, cross: Array, prior: Array | float) -> Array:
        """Posterior variance without noise, shape (m,); `prior` is the variance before, (m,) or one for all."""
        whitened = lower_times(self.whitener, cross)
        return np.asarray(np.maximum(prior - np.einsum("nm,nm->m", whitened, whitened), 0.0))

    def covariance(self, cross: Array, prior: Array) -> Array:
        """Posterior covariance, shape (m, m), from the covariance before."""
        return prior - self.explained(cross)

    def explained(self, cross: Array) -> Array:
        """What the values seen take off the covariance before, shape (m, m): the covariance of posterior means."""
        whitened = lower_times(self.whitener, cross)
        return times(whitened.T.copy(), whitened)

    def precision(self) -> Array:
        """Inverse covariance of the values seen, shape (n, n)."""
        return gram(self.whitener)

    def leave_one_out(self) -> tuple[Array, Array]:
        """For each value its distance from what the others predict, and the variance of that, both (n,).

        [Rasmussen2006] equation 5.12
        """
        diagonal = np.einsum("kn,kn->n", self.whitener, self.whitener)
        return self.coefficients / diagonal, 1.0 / diagonal


def condition(covariance: Array, noise_variance: Array, values: Array) -> Conditioned:
    """Condition on `values` (n,), seen with `noise_variance` (n,), with covariance (n, n) and mean 0 before.

    Raises:
        NotPositiveDefinite: the covariance has no Cholesky factor.
    """
    noisy = covariance.copy()
    noisy.flat[:: len(noisy) + 1] += noise_variance
    lower = cholesky(noisy)
    whitener = invert_lower(lower)
    whitened = np.einsum("nk,k->n", whitener, values)
    log_determinant = float(np.log(np.diag(lower)).sum())
    fit = float(np.einsum("n,n->", whitened, whitened))
    log_evidence = -0.5 * fit - log_determinant - 0.5 * len(values) * math.log(2.0 * math.pi)
    return Conditioned(whitener, np.einsum("nk,n->k", whitener, whitened), log_evidence)


def draw(mean: Array, covariance: Array, normals: Array) -> Array:
    """Draws (draws, m) from a normal distribution, from standard normals of the same shape.

    A covariance that lost its factor to rounding gets the least jitter that mends it.
    """
    size = len(mean)
    jitter = 1e-10 * max(float(np.trace(covariance)) / size, 1e-12)
    for _ in range(12):
        try:
            lower = cholesky(covariance + jitter * np.eye(size))
        except ArithmeticError:
            jitter *= 10.0
            continue
        return mean + times(normals, lower.T)
    return mean + normals * np.sqrt(np.maximum(np.diag(covariance), 0.0))
