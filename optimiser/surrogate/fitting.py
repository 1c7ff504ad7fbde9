"""From rows and values to a belief that has averaged over what the kernel's scales might be."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from optimiser.surrogate.checking import LeftOut, left_out
from optimiser.surrogate.covariance import Covariance
from optimiser.surrogate.days import WIDER, Days, days_of, first_guess, usual_variance
from optimiser.surrogate.gaussian_process import Conditioned
from optimiser.surrogate.likelihood import CONSTANT_VARIANCE, NOISE_PRIOR, Likelihood, Observations
from optimiser.surrogate.outliers import sift
from optimiser.surrogate.sampling import climb, scatter
from optimiser.surrogate.trend import FLAT, Trend
from optimiser.surrogate.triangular import Array, times

USUAL_SPREAD: Final = 0.1
"""Share of a value that others are taken to differ by while it is the only one (a choice, no source)."""


@dataclass(frozen=True)
class Effort:
    """How hard to look for hyperparameters.

    Attributes:
        members: sets of hyperparameters over which predictions are averaged: the most probable one and others
            scattered round it.
        steps: most steps of the search for the most probable ones.
        further_steps: most steps of the search for each other one.
        learning: most values from which they are learnt; all values are predicted from, however many there are.
    """

    members: int = 4
    steps: int = 40
    further_steps: int = 12
    learning: int | None = None


@dataclass(frozen=True)
class Member:
    """The Gaussian process under one draw of the hyperparameters.

    Attributes:
        hyper: hyperparameters in the likelihood's order: the kernel's, noise, days, the share within takes, slopes.
        noise_variance: learnt repeatability with what a usual take adds, in standard units.
        conditioned: the process, conditioned on the values.
    """

    hyper: Array
    noise_variance: float
    conditioned: Conditioned


@dataclass(frozen=True)
class Fitted:
    """A belief over arrangements: an even mixture of Gaussian processes.

    Attributes:
        kernel: covariance over arrangements.
        observations: what it has seen, in standard units.
        centre: value that is 0 in standard units.
        scale: value units in one standard unit.
        members: the mixture.
        trend: what was believed of the mean beforehand, in standard units.
        doubted: places of values that fit nothing else and count for little.
        guess: first guess of each day's shift, in value units, shape (days,); what of it lies within a chain of days
            was taken off the values.
    """

    kernel: Covariance
    observations: Observations
    centre: float
    scale: float
    members: tuple[Member, ...]
    trend: Trend = FLAT
    doubted: tuple[int, ...] = ()
    guess: Array = field(default_factory=lambda: np.zeros(1))

    def compare(self, rows: Array) -> tuple[Array, ...]:
        """What rows (m, d) and those seen have between them, whatever the hyperparameters."""
        return self.kernel.compare(self.observations.rows, rows)

    def predict(self, rows: Array, comparisons: tuple[Array, ...] | None = None) -> tuple[Array, Array]:
        """Mean and variance without noise under every member, both of shape (members, m), in value units.

        Beliefs that have seen the same rows by the same kernel may share `comparisons`.
        """
        comparisons = self.compare(rows) if comparisons is None else comparisons
        features, alone = self.trend.features(rows), self.kernel.alone(rows)
        means, variances = np.empty((2, len(self.members), len(rows)))
        for index, member in enumerate(self.members):
            cross = self.kernel.covariance(comparisons, self._of_kernel(member)) + CONSTANT_VARIANCE
            prior = self.kernel.variance(self._of_kernel(member), alone) + CONSTANT_VARIANCE
            means[index] = member.conditioned.mean(cross) + self.trend.mean(features, member.hyper)
            variances[index] = member.conditioned.variance(cross, prior)
        return self.centre + self.scale * means, self.scale**2 * variances

    def joint(self, rows: Array, member: Member) -> tuple[Array, Array]:
        """Mean (m,) and covariance (m, m) of several rows under one member, in value units."""
        cross = self.prior_covariance(self.observations.rows, rows, member)
        prior = self.prior_covariance(rows, rows, member)
        mean = self.centre + self.scale * self._mean(cross, rows, member)
        return mean, self.scale**2 * member.conditioned.covariance(cross, prior)

    def believing(self, rows: Array) -> "Fitted":
        """The belief after trials at these rows that turned out as expected: the same means, less doubt around them."""
        both = np.concatenate([self.observations.rows, rows])
        expected = [
            self._mean(self.prior_covariance(self.observations.rows, rows, member), rows, member)
            for member in self.members
        ]
        seen = self.observations
        later = Observations(
            both,
            np.concatenate([seen.values, np.mean(expected, axis=0)]),
            np.concatenate([seen.known_variance, np.zeros(len(rows))]),
            np.concatenate([seen.within_variance, np.zeros(len(rows))]),
            None if seen.days is None else seen.days.with_more(len(rows)),
        )
        members = tuple(self._again(member, later, mean) for member, mean in zip(self.members, expected, strict=True))
        return replace(self, observations=later, members=members)

    def left_out(self) -> LeftOut:
        """Each value against what the others say of it [Rasmussen2006] section 5.4.2."""
        residuals, sds = self.residuals()
        return left_out(self.centre + self.scale * self.observations.values, residuals, sds)

    def residuals(self) -> tuple[Array, Array]:
        """Distance of each value from what the others predict, and its standard deviation, both (members, n)."""
        each = [member.conditioned.leave_one_out() for member in self.members]
        residuals, variances = (np.stack(part) for part in zip(*each, strict=True))
        return self.scale * residuals, self.scale * np.sqrt(variances)

    def _again(self, member: Member, later: Observations, expected: Array) -> Member:
        days = self.observations.days
        if days is not None:
            expected = expected + days.shifts(member.conditioned, self._loose_variance(member))[0][-1]
        values = np.concatenate([self.observations.values, expected])
        likelihood = Likelihood(self.kernel, replace(later, values=values), self.trend)
        return replace(member, conditioned=likelihood.condition(member.hyper))

    def prior_covariance(self, left: Array, right: Array, member: Member) -> Array:
        """Covariance (n, m) between true scores before any was measured, under one member, in standard units."""
        comparisons = self.kernel.compare(left, right)
        return self.kernel.covariance(comparisons, self._of_kernel(member)) + CONSTANT_VARIANCE

    def _mean(self, cross: Array, rows: Array, member: Member) -> Array:
        return member.conditioned.mean(cross) + self.trend.mean(self.trend.features(rows), member.hyper)

    def day_shifts(self) -> tuple[Array, Array] | None:
        """What each day reads high by against the mean over all trials, and the standard error of that, both (days,).

        In value units; None when all values are of one day. The error is wider than the members have it, by WIDER.
        """
        seen = self._day_shifts()
        return None if seen is None else (seen[0], WIDER * seen[1])

    def _day_shifts(self) -> tuple[Array, Array] | None:
        days = self.observations.days
        if days is None:
            return None
        each = [days.shifts(member.conditioned, self._loose_variance(member)) for member in self.members]
        means = np.stack([mean for mean, _ in each])
        variances = np.stack([np.diag(covariance) for _, covariance in each])
        mean, sd = mixture(means, variances)
        return times(days.within, self.guess[:, None])[:, 0] + self.scale * mean, self.scale * sd

    def day_variance(self) -> float:
        """Variance of what a new day may read high or low by, in squared value units."""
        seen = self._day_shifts()
        shifts, errors = (np.zeros(1), np.zeros(1)) if seen is None else seen
        return self.scale**2 * usual_variance(shifts / self.scale, errors / self.scale)

    def _loose_variance(self, member: Member) -> float:
        return Likelihood(self.kernel, self.observations, self.trend).loose_variance(member.hyper)

    def _of_kernel(self, member: Member) -> Array:
        return member.hyper[: len(self.kernel.priors)]

    def noise(self) -> float:
        """Standard deviation between repeats, in value units, averaged over the mixture's variances."""
        return self.scale * float(np.sqrt(np.mean([member.noise_variance for member in self.members])))


def mixture(means: Array, variances: Array) -> tuple[Array, Array]:
    """Mean and standard deviation (m,) of an even mixture of normals (members, m)."""
    mean = means.mean(axis=0)
    return mean, np.sqrt(variances.mean(axis=0) + means.var(axis=0))


def standardise(values: Array, errors: Array) -> tuple[float, float]:
    """Centre and scale that give values mean 0 and variance 1, with a scale above 0 whatever the values."""
    centre = float(values.mean())
    spread = float(values.std())
    fallback = max(float(errors.mean()), USUAL_SPREAD * abs(centre), 1e-6)
    return centre, spread if len(values) > 1 and spread > 1e-9 * max(1.0, abs(centre)) else fallback


def fit(
    kernel: Covariance,
    rows: Array,
    values: Array,
    errors: Array,
    *,
    within: Array | None = None,
    days: Sequence[int] = (),
    trend: Trend = FLAT,
    least_scale: float = 0.0,
    effort: Effort | None = None,
    seed: int = 0,
) -> Fitted:
    """Fit the kernel's hyperparameters and condition on what was measured.

    Args:
        kernel: covariance over arrangements.
        rows: arrangements, shape (n, d).
        values: what was measured, shape (n,).
        errors: standard error of each value, shape (n,); repeatability is learnt on top of it.
        within: standard error of each value within its take, shape (n,); the share of it that is noise is learnt.
        days: number of the day of each value, none when all are of one day.
        trend: what is believed of the mean beforehand.
        least_scale: spread, in value units, below which that of the values is not believed.
        effort: how hard to look for hyperparameters.
        seed: of the scattered hyperparameters.

    Raises:
        ValueError: shapes that do not fit, or values that are not finite.
    """
    effort = effort or Effort()
    sittings = days_of(rows, np.array(days or [0] * len(rows)))
    guess, values, scale = _level(kernel, rows, values, errors, sittings)
    scale = max(scale, least_scale)
    centre = float(values.mean())
    within = np.zeros(len(rows)) if within is None else within
    observations = Observations(rows, (values - centre) / scale, (errors / scale) ** 2, (within / scale) ** 2, sittings)
    trend = trend.scaled(scale)
    likelihood = Likelihood(kernel, observations, trend)
    rng = np.random.default_rng(seed)
    best = climb(likelihood.thinned(effort.learning).log_density, np.zeros(len(likelihood.priors)), effort.steps)
    sifted = sift(likelihood, best, effort.learning)
    likelihood, best = sifted.likelihood, sifted.best
    learnt = likelihood.thinned(effort.learning).log_density
    further = scatter(learnt, best, effort.members - 1, effort.further_steps, rng)
    points = [best, *further]
    members = tuple(_member(likelihood, point) for point in points)
    return Fitted(kernel, likelihood.observations, centre, scale, members, trend, sifted.doubted, guess)


def _level(
    kernel: Covariance, rows: Array, values: Array, errors: Array, days: Days | None
) -> tuple[Array, Array, float]:
    """First guess of the days' shifts, values without those that days of one chain show, and scale without any."""
    if days is None:
        return np.zeros(1), values, standardise(values, errors)[1]
    usual = np.array([prior.mean for prior in kernel.priors])
    covariance = kernel.covary(kernel.compare(rows, rows), usual)[0]
    covariance.flat[:: len(rows) + 1] += math.exp(NOISE_PRIOR.mean)
    guess = first_guess(covariance, days, values)
    shown = times(days.within, guess[:, None])[:, 0]
    return guess, values - shown[days.of_value], standardise(values - guess[days.of_value], errors)[1]


def _member(likelihood: Likelihood, point: Array) -> Member:
    hyper = likelihood.hyper(point)
    noise = float(np.exp(hyper[len(likelihood.kernel.priors)]))
    noise_variance = noise + float(np.median(likelihood.within_noise(hyper)))
    return Member(hyper, noise_variance, likelihood.condition(hyper))
