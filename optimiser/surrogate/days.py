"""What whole days read high or low by: valves, air and stands drift, and a score of one day is no score of another.

Days on which one arrangement was tried again hang together in a chain. Within a chain a day's shift is left free, as
is a block's effect in a designed experiment: a constant added to every score of a day changes no difference between
arrangements. Between chains only arrangements that lie near each other tell shifts from settings; there a shift is a
random effect, small unless the scores say otherwise. Shifts are told against the mean over all trials.
"""

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.surrogate.gaussian_process import Conditioned
from optimiser.surrogate.priors import Prior
from optimiser.surrogate.triangular import Array, cholesky, invert_lower, times

FREE_VARIANCE: Final = 4.0
"""Variance of what is left of a free shift after a first guess, in units of the values' variance: as good as free."""

DAY_PRIOR: Final = Prior(math.log(0.05), 1.0)
"""Log of the variance between days that share no arrangement, in units of the values' variance (a choice, no
source)."""

PRIOR_DAYS: Final = 2.0
"""So many days the prior's median counts for when it is asked how far days lie apart (a choice, no source)."""

WIDER: Final = 1.2
"""Factor on the errors of days' shifts: they follow from the most probable repeatability, which a few trials make too
small. With 1 their 90 % intervals held 76 % of 600 shifts of days linked by one arrangement among random ones, 82 % of
600 without a link, and 88 % of 108 on hunts; with 1.2 85, 90 and 93 % (other draws than tests/surrogate/test_days.py
has)."""


@dataclass(frozen=True)
class Days:
    """Which values share their day, and which days share an arrangement.

    Attributes:
        of_value: place of each value's day, shape (n,), counted from 0 in the order of the days.
        chains: number of the chain of each day, shape (days,).
        counts: trials of each day, over which means are taken, shape (days,).
    """

    of_value: NDArray[np.intp]
    chains: NDArray[np.intp]
    counts: Array

    @property
    def loose(self) -> bool:
        """Whether there are days that share no arrangement."""
        return len(set(self.chains.tolist())) > 1

    @cached_property
    def within(self) -> Array:
        """Shifts of the days, shape (days, days), from free ones, the mean of their chain taken off."""
        together = (self.chains[:, None] == self.chains) * self.counts
        return np.asarray(np.eye(len(self.chains)) - together / together.sum(axis=1, keepdims=True))

    @cached_property
    def between(self) -> Array:
        """Shifts of the days, shape (days, chains), from those of the chains, the mean over all trials taken off."""
        of_day = (self.chains[:, None] == np.unique(self.chains)).astype(float)
        return np.asarray(of_day - np.average(of_day, axis=0, weights=self.counts))

    @cached_property
    def free_covariance(self) -> Array:
        """Covariance (n, n) of what is left of the values' free shifts."""
        seen = self.within[self.of_value]
        return FREE_VARIANCE * times(seen, seen.T.copy())

    @cached_property
    def loose_covariance(self) -> Array:
        """Covariance (n, n) that chains give to values when their shifts have variance 1."""
        seen = self.between[self.of_value]
        return times(seen, seen.T.copy())

    def with_more(self, count: int) -> "Days":
        """The same days when `count` more values belong to the last of them."""
        more = np.full(count, len(self.chains) - 1, dtype=self.of_value.dtype)
        return replace(self, of_value=np.concatenate([self.of_value, more]))

    def shifts(self, conditioned: Conditioned, loose_variance: float) -> tuple[Array, Array]:
        """Mean (days,) and covariance (days, days) of the days' shifts, but for the first guess taken off the values.

        Args:
            conditioned: the process that has seen the values.
            loose_variance: variance between chains.
        """
        within, between = self.within, self.between
        prior = FREE_VARIANCE * times(within, within.T.copy()) + loose_variance * times(between, between.T.copy())
        cross = prior[self.of_value]
        return conditioned.mean(cross), conditioned.covariance(cross, prior)


def days_of(rows: Array, days: NDArray[np.intp]) -> Days | None:
    """What the days (n,) of arrangements (n, d) have in common; None when all are of one day."""
    numbers, of_value = np.unique(days, return_inverse=True)
    if len(numbers) < 2:
        return None
    _, arrangement = np.unique(rows, axis=0, return_inverse=True)
    met = np.zeros((len(numbers), len(rows)), dtype=bool)
    met[of_value, arrangement.reshape(-1)] = True
    chains = np.arange(len(numbers))
    for tried in met.T[met.sum(axis=0) > 1]:
        chains[np.isin(chains, chains[tried])] = chains[tried].min(initial=len(numbers))
    return Days(of_value, chains, np.bincount(of_value).astype(float))


def usual_variance(shifts: Array, errors: Array) -> float:
    """Variance between days, from their shifts (days,) and the standard errors of those, all in standard units."""
    seen = float(np.sum(np.maximum(shifts**2 - errors**2, 0.0)))
    return (PRIOR_DAYS * math.exp(DAY_PRIOR.mean) + seen) / (PRIOR_DAYS + len(shifts) - 1)


def first_guess(covariance: Array, days: Days, values: Array) -> Array:
    """Each day's shift by generalised least squares [Aitken1936], all of them free, shape (days,).

    Args:
        covariance: of values before they were seen, noise included, but for a factor, shape (n, n).
        days: of the values.
        values: what was measured, shape (n,); a constant added to a whole day is found again.
    """
    whitener = invert_lower(cholesky(covariance))
    design = times(whitener, np.eye(len(days.chains))[days.of_value])
    wanted = np.einsum("nk,k->n", whitener, values)
    inverse = invert_lower(cholesky(times(design.T.copy(), design)))
    levels = np.einsum("ed,ek,nk,n->d", inverse, inverse, design, wanted, optimize=False)
    return np.asarray(levels - np.average(levels, weights=days.counts))
