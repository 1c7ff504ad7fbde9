"""A belief about a product of powers, from beliefs about the logarithm of each factor.

What falls with a setting and what rises with it are each simple curves; their product has a ridge between them that a
belief about the product alone must find by hitting it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimiser.surrogate.checking import LeftOut, left_out
from optimiser.surrogate.fitting import Fitted, Member, standardise
from optimiser.surrogate.triangular import Array


@dataclass(frozen=True)
class ProductMember:
    """One member of every factor's mixture.

    Attributes:
        parts: one for each factor.
        noise_variance: of a usual trial where the value is typical, in squared units of the product's scale.
    """

    parts: tuple[Member, ...]
    noise_variance: float


@dataclass(frozen=True)
class Product:
    """value = top x exp(sum over factors of power x log factor), each log factor a mixture of Gaussian processes.

    Means and covariances of the value are to first order round each mean (delta method): a mean is the median of the
    log-normal that it stands for, so that doubt does not raise it.

    Attributes:
        factors: beliefs about the logarithm of each factor.
        powers: exponent of each factor.
        top: the value where every factor is 1.
        members: the mixture.
        scale: spread of the values seen, value units in one standard unit.
    """

    factors: tuple[Fitted, ...]
    powers: tuple[float, ...]
    top: float
    members: tuple[ProductMember, ...]
    scale: float

    def predict(self, rows: Array) -> tuple[Array, Array]:
        """Mean and variance without noise under every member, both of shape (members, m), in value units."""
        logs, variances = np.zeros((2, len(self.members), len(rows)))
        comparisons = self.factors[0].compare(rows)
        for factor, power in zip(self.factors, self.powers, strict=True):
            shared = comparisons if factor.kernel is self.factors[0].kernel else None
            means, doubts = factor.predict(rows, shared)
            turns = np.arange(len(self.members)) % len(factor.members)
            logs += power * means[turns]
            variances += power**2 * doubts[turns]
        values = self.top * np.exp(logs)
        return values, values**2 * variances

    def joint(self, rows: Array, member: ProductMember) -> tuple[Array, Array]:
        """Mean (m,) and covariance (m, m) of several rows under one member, in value units."""
        logs, covariance = np.zeros(len(rows)), np.zeros((len(rows), len(rows)))
        for factor, power, part in zip(self.factors, self.powers, member.parts, strict=True):
            mean, own = factor.joint(rows, part)
            logs += power * mean
            covariance += power**2 * own
        values = self.top * np.exp(logs)
        return values, values[:, None] * covariance * values

    def believing(self, rows: Array) -> "Product":
        """The belief after trials at these rows that turned out as expected: the same means, less doubt around them."""
        return product([factor.believing(rows) for factor in self.factors], self.powers, self.top)

    def prior_covariance(self, left: Array, right: Array, member: ProductMember) -> Array:
        """Covariance (n, m) between logarithms of true values before any was measured, under one member."""
        covariance = np.zeros((len(left), len(right)))
        for factor, power, part in zip(self.factors, self.powers, member.parts, strict=True):
            covariance += (power * factor.scale) ** 2 * factor.prior_covariance(left, right, part)
        return covariance

    def left_out(self) -> LeftOut:
        """Each value against what the others say of it, in value units to first order."""
        residuals, variances = np.zeros((2, len(self.members), len(self.factors[0].observations.values)))
        for factor, power in zip(self.factors, self.powers, strict=True):
            own, sds = factor.residuals()
            turns = np.arange(len(self.members)) % len(factor.members)
            residuals += power * own[turns]
            variances += (power * sds[turns]) ** 2
        values = _product_seen(self.factors, self.powers, self.top)
        return left_out(values, values * residuals, values * np.sqrt(variances))

    def day_shifts(self) -> tuple[Array, Array] | None:
        """What each day reads high by against the mean over all trials, and the standard error of that, both (days,).

        In value units where the value is typical; None when all are of one day.
        """
        each = [factor.day_shifts() for factor in self.factors]
        seen = [shifts for shifts in each if shifts is not None]
        if not seen:
            return None
        shifts = sum(power * own for power, (own, _) in zip(self.powers, seen, strict=True))
        variances = sum((power * errors) ** 2 for power, (_, errors) in zip(self.powers, seen, strict=True))
        return self._typical() * np.asarray(shifts), self._typical() * np.sqrt(variances)

    def day_variance(self) -> float:
        """Variance of what a new day may read high or low by where the value is typical, in squared value units."""
        each = zip(self.powers, self.factors, strict=True)
        return self._typical() ** 2 * sum(power**2 * factor.day_variance() for power, factor in each)

    def _typical(self) -> float:
        return float(np.median(_product_seen(self.factors, self.powers, self.top)))

    @property
    def doubted(self) -> tuple[int, ...]:
        """Places of values of which some factor fits nothing else."""
        return tuple(sorted({place for factor in self.factors for place in factor.doubted}))

    def noise(self) -> float:
        """Standard deviation between repeats where the value is typical, averaged over the mixture's variances."""
        return self.scale * float(np.sqrt(np.mean([member.noise_variance for member in self.members])))


def product(factors: Sequence[Fitted], powers: Sequence[float], top: float) -> Product:
    """The belief about a product, the members of the factors' mixtures paired up in turn.

    Args:
        factors: beliefs about the logarithm of each factor, at the same rows.
        powers: exponent of each.
        top: the value where every factor is 1.
    """
    seen = _product_seen(factors, powers, top)
    _, scale = standardise(seen, np.zeros(len(seen)))
    typical = float(np.median(seen)) / scale
    members = []
    for turn in range(max(len(factor.members) for factor in factors)):
        parts = tuple(factor.members[turn % len(factor.members)] for factor in factors)
        variances = [
            (power * factor.scale) ** 2 * part.noise_variance
            for factor, power, part in zip(factors, powers, parts, strict=True)
        ]
        members.append(ProductMember(parts, typical**2 * sum(variances)))
    return Product(tuple(factors), tuple(powers), top, tuple(members), scale)


def _product_seen(factors: Sequence[Fitted], powers: Sequence[float], top: float) -> Array:
    """The product's values that the factors' measured ones make, shape (n,)."""
    logs = [power * (f.centre + f.scale * f.observations.values) for f, power in zip(factors, powers, strict=True)]
    return np.asarray(top * np.exp(np.sum(logs, axis=0)))
