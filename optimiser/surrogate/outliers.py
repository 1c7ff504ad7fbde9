"""Values that fit nothing else, such as those of a botched take, are found out and count for little."""

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from optimiser.surrogate.likelihood import Likelihood
from optimiser.surrogate.sampling import climb
from optimiser.surrogate.triangular import Array

BOTCHED_SHARE: Final = 0.001
"""Share of values that are believed beforehand to be no measurement of their arrangement. With 0.02 hunts on a noisy
table of the rehearsal amp took longer (studies/proposals-benchmark); only blatant ones are meant."""

BOTCHED_VARIANCE: Final = 4.0
"""Variance of such a value, in units of the values' variance (a choice, no source)."""

SUSPECT: Final = 3.0
"""Standard deviations off what the others predict from which a value is looked into (a choice, no source)."""

ONE_IN: Final = 6
"""At most one value in so many is doubted (a choice, no source)."""

STEPS: Final = 15
"""Most steps of the search for the most probable scales without a suspect (a choice, no source)."""


@dataclass(frozen=True)
class Sifted:
    """A likelihood in which doubted values count for little.

    Attributes:
        likelihood: the likelihood.
        best: its most probable hyperparameters, in standard normal form.
        doubted: places of the doubted values.
    """

    likelihood: Likelihood
    best: Array
    doubted: tuple[int, ...] = ()


def sift(likelihood: Likelihood, best: Array, learning: int | None = None) -> Sifted:
    """Doubt, one after the other, each value without which the rest is more probable by the odds of a botched take.

    The greedy search over which values carry noise of their own is that of relevance pursuit [Ament2024], here with
    noise of a fixed size and one prior chance for each value. Scales are learnt from `learning` of the values at most;
    where there are more, one value hardly moves them, and only what is doubted by the old scales is looked into.
    """
    sifted = Sifted(likelihood, best)
    density = likelihood.density(best)
    odds = math.log((1.0 - BOTCHED_SHARE) / BOTCHED_SHARE)
    while len(sifted.doubted) < len(likelihood.observations.values) // ONE_IN:
        suspect = _suspect(sifted)
        if suspect is None:
            break
        without = _doubting(sifted, suspect)
        settled = learning is not None and len(likelihood.observations.values) > learning
        if without.likelihood.density(sifted.best) < density + (odds if settled else 0.0):
            break
        learnt = without.likelihood.thinned(learning).log_density
        without = replace(without, best=climb(learnt, sifted.best, STEPS))
        found = without.likelihood.density(without.best)
        if found - density < odds:
            break
        sifted, density = without, found
    return sifted


def _suspect(sifted: Sifted) -> int | None:
    """The value that lies farthest off what the others predict, None where none lies far off."""
    conditioned = sifted.likelihood.condition(sifted.likelihood.hyper(sifted.best))
    residuals, variances = conditioned.leave_one_out()
    off = np.abs(residuals) / np.sqrt(variances)
    off[list(sifted.doubted)] = 0.0
    worst = int(np.argmax(off))
    return worst if off[worst] >= SUSPECT else None


def _doubting(sifted: Sifted, suspect: int) -> Sifted:
    observations = sifted.likelihood.observations
    known = observations.known_variance.copy()
    known[suspect] += BOTCHED_VARIANCE
    likelihood = replace(sifted.likelihood, observations=replace(observations, known_variance=known))
    return Sifted(likelihood, sifted.best, (*sifted.doubted, suspect))
