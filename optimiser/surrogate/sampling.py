"""Finding the most probable hyperparameters and others that are nearly as probable."""

import math
from collections.abc import Callable
from typing import Final

import numpy as np
from scipy.optimize import minimize

from optimiser.surrogate.triangular import Array

Density = Callable[[Array], tuple[float, Array]]
"""Log density of hyperparameters that are standard normal beforehand, but for a constant, and its gradient."""

SPREAD: Final = 0.5
"""How far the prior is moved for each further draw, in its standard deviations; 1 would be right for a model that is
linear in its hyperparameters, less predicted better on the tuning draw (studies/proposals-benchmark)."""

_NOWHERE: Final = 1e10


def climb(density: Density, start: Array, steps: int) -> Array:
    """The maximum that L-BFGS reaches from a start within so many steps."""

    def negative(point: Array) -> tuple[float, Array]:
        value, gradient = density(point)
        return (-value, -gradient) if math.isfinite(value) else (_NOWHERE, np.zeros_like(point))

    result = minimize(negative, start, jac=True, method="L-BFGS-B", options={"maxiter": steps})
    return np.asarray(result.x, dtype=float)


def scatter(density: Density, best: Array, draws: int, steps: int, rng: np.random.Generator) -> list[Array]:
    """Hyperparameters that are most probable under priors moved at random, after [Bardsley2014].

    Where the values say much all draws agree with the best; where they say nothing the draws scatter as the prior
    does. Each draw is a maximum, hence never one of the many poor compromises that fill most of a space of twenty
    dimensions and of which a Markov chain would mostly consist.
    """
    drawn = []
    for _ in range(draws):
        centre = SPREAD * rng.normal(size=len(best))
        drawn.append(climb(_recentred(density, centre), best + 0.5 * centre, steps))
    return drawn


def _recentred(density: Density, centre: Array) -> Density:
    """The density under a standard normal prior moved to `centre`."""

    def moved(point: Array) -> tuple[float, Array]:
        value, gradient = density(point)
        return value + float(np.einsum("p,p->", centre, point)), gradient + centre

    return moved
