"""How probable hyperparameters are, given what was measured, with the gradient that a search or a sampler needs."""

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.surrogate.covariance import Covariance
from optimiser.surrogate.days import DAY_PRIOR, Days
from optimiser.surrogate.gaussian_process import Conditioned, condition
from optimiser.surrogate.kernels import Pullback
from optimiser.surrogate.priors import Prior
from optimiser.surrogate.trend import FLAT, Trend
from optimiser.surrogate.triangular import Array, NotPositiveDefinite

NOISE_FLOOR: Final = 1e-4
"""Least noise variance, in units of the values' variance, so that repeats never make a covariance singular."""

CONSTANT_VARIANCE: Final = 1.0
"""Variance of the unknown mean, in units of the values' variance: trials gather where values are high, so that their
own mean says little of the space's mean (a choice, no source)."""

NOISE_PRIOR: Final = Prior(-4.0, 1.0)
"""Log of the repeatability's variance, in units of the values' variance [Hvarfner2024]."""

WITHIN_PRIOR: Final = Prior(math.log(0.1), 1.0)
"""Log of the share of the within-take variance that is new in every trial. Most of it says how the score would change
on other riffs, which all trials of one reel have in common (a choice, no source)."""


@dataclass(frozen=True)
class Observations:
    """What was measured, in standard units.

    Attributes:
        rows: arrangements, shape (n, d).
        values: measured values with mean 0 and variance 1, shape (n,).
        known_variance: variance of each value that is known beforehand, shape (n,).
        within_variance: variance of each value within its take, shape (n,); an unknown share of it is noise.
        days: which values share one unknown shift; None when all are of one day.
    """

    rows: Array
    values: Array
    known_variance: Array
    within_variance: Array
    days: Days | None = None

    def __post_init__(self) -> None:
        count = len(self.rows)
        parts = (self.values, self.known_variance, self.within_variance)
        if any(len(part) != count for part in parts) or (self.days and len(self.days.of_value) != count):
            raise ValueError("rows, values, variances and days must be equally many")
        if not all(np.isfinite(part).all() for part in (self.rows, *parts)):
            raise ValueError("observations must be finite")

    def at(self, places: NDArray[np.intp]) -> "Observations":
        """What was measured at some places; days and their chains stay as they are."""
        return Observations(
            self.rows[places],
            self.values[places],
            self.known_variance[places],
            self.within_variance[places],
            None if self.days is None else replace(self.days, of_value=self.days.of_value[places]),
        )

    @cached_property
    def has_within(self) -> bool:
        """Whether any value carries a variance within its take."""
        return bool(np.any(self.within_variance > 0))


@dataclass(frozen=True)
class Likelihood:
    """Posterior density of hyperparameters z, each standard normal beforehand.

    The vector holds the kernel's hyperparameters, the log noise variance, when there are days that share no arrangement
    the log variance between them, and when there are variances within takes the log share of them that is noise.

    Attributes:
        kernel: the covariance over arrangements.
        observations: what was measured.
        trend: what is believed of the mean beforehand, in standard units; its slopes end the vector.
    """

    kernel: Covariance
    observations: Observations
    trend: Trend = FLAT

    @cached_property
    def priors(self) -> tuple[Prior, ...]:
        """One for each entry of the vector."""
        days = (DAY_PRIOR,) if self.observations.days is not None and self.observations.days.loose else ()
        within = (WITHIN_PRIOR,) if self.observations.has_within else ()
        return (*self.kernel.priors, NOISE_PRIOR, *days, *within, *self.trend.slopes)

    @cached_property
    def _means(self) -> Array:
        return np.array([prior.mean for prior in self.priors])

    @cached_property
    def _sds(self) -> Array:
        return np.array([prior.sd for prior in self.priors])

    @cached_property
    def _comparisons(self) -> tuple[Array, ...]:
        return self.kernel.compare(self.observations.rows, self.observations.rows)

    def thinned(self, most: int | None) -> "Likelihood":
        """The likelihood of evenly spaced ones of the values, at most so many; the same vector belongs to it."""
        count = len(self.observations.values)
        if most is None or count <= most:
            return self
        kept = np.unique(np.linspace(0, count - 1, most).round().astype(int))
        thinner = replace(self, observations=self.observations.at(kept))
        return thinner if len(thinner.priors) == len(self.priors) else self

    def hyper(self, standard: Array) -> Array:
        """Logarithms and logits from their standard normal form."""
        return self._means + self._sds * standard

    def condition(self, hyper: Array) -> Conditioned:
        """The Gaussian process under these hyperparameters, given as logarithms and logits."""
        return self._condition(hyper)[0]

    def _condition(self, hyper: Array) -> tuple[Conditioned, "_Parts"]:
        size = len(self.kernel.priors)
        covariance, pull = self.kernel.covary(self._comparisons, hyper[:size])
        days = self.observations.days
        free = 0.0 if days is None else days.free_covariance
        loose = 0.0 if days is None else self.loose_variance(hyper) * days.loose_covariance
        noise = math.exp(hyper[size])
        total = covariance + CONSTANT_VARIANCE + free + loose
        within = self.within_noise(hyper)
        known = self.observations.known_variance + within + noise + NOISE_FLOOR
        values = self.observations.values - self.trend.mean(self._features, hyper)
        return condition(total, known, values), _Parts(pull, noise, loose, within)

    @cached_property
    def _features(self) -> Array:
        return self.trend.features(self.observations.rows)

    def loose_variance(self, hyper: Array) -> float:
        """Variance between days that share no arrangement, 0 where there are none."""
        days = self.observations.days
        return math.exp(hyper[len(self.kernel.priors) + 1]) if days is not None and days.loose else 0.0

    def within_noise(self, hyper: Array) -> Array:
        """The part of each value's within-take variance that is noise under these hyperparameters, shape (n,)."""
        share = math.exp(hyper[-1 - len(self.trend.slopes)]) if self.observations.has_within else 0.0
        return share * self.observations.within_variance

    def density(self, standard: Array) -> float:
        """`log_density` without its gradient."""
        try:
            conditioned = self.condition(self.hyper(standard))
        except (NotPositiveDefinite, FloatingPointError):
            return -math.inf
        return conditioned.log_evidence - 0.5 * float(np.einsum("p,p->", standard, standard))

    def log_density(self, standard: Array) -> tuple[float, Array]:
        """Log posterior density, but for a constant, and its gradient (p,); minus infinity where there is none."""
        try:
            conditioned, parts = self._condition(self.hyper(standard))
        except (NotPositiveDefinite, FloatingPointError):
            return -math.inf, np.zeros_like(standard)
        outer = conditioned.coefficients[:, None] * conditioned.coefficients
        by_covariance = 0.5 * (outer - conditioned.precision())
        by_noise = parts.noise * float(np.trace(by_covariance))
        gradient = [*parts.pull(by_covariance), by_noise]
        if self.observations.days is not None and self.observations.days.loose:
            gradient.append(float(np.einsum("nm,nm->", by_covariance, parts.loose)))
        if self.observations.has_within:
            gradient.append(float(np.einsum("n,n->", np.diag(by_covariance), parts.within)))
        gradient += [0.0] * len(self.trend.slopes)
        by_trend = self.trend.pull(self._features, self.hyper(standard), conditioned.coefficients)
        density = conditioned.log_evidence - 0.5 * float(np.einsum("p,p->", standard, standard))
        return density, self._sds * (np.array(gradient) + by_trend) - standard


@dataclass(frozen=True)
class _Parts:
    pull: Pullback
    noise: float
    loose: Array | float
    within: Array
