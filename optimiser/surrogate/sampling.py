"""Finding the most probable hyperparameters and drawing further ones around them."""

import math
from collections.abc import Callable
from typing import Final

import numpy as np
from scipy.optimize import minimize

from optimiser.surrogate.triangular import Array

Density = Callable[[Array], tuple[float, Array]]
"""Log density, but for a constant, and its gradient."""

STEP: Final = 0.25
"""First step of the sampler, in prior standard deviations; it adapts while warming up (a choice, no source)."""

LEAPS: Final = 6
"""Leapfrog steps of one proposal of the sampler (a choice, no source)."""

WANTED_ACCEPTANCE: Final = 0.8
"""Share of proposals that should be accepted [Neal2011], from memory: 0.65 at best, more when draws are few."""


def climb(density: Density, starts: list[Array], steps: int) -> Array:
    """The best of the maxima reached from some starts by L-BFGS, each within so many steps."""
    best, highest = starts[0], -math.inf
    for start in starts:
        result = minimize(_downhill(density), start, jac=True, method="L-BFGS-B", options={"maxiter": steps})
        if -result.fun > highest:
            best, highest = np.asarray(result.x, dtype=float), -float(result.fun)
    return best


def _downhill(density: Density) -> Callable[[Array], tuple[float, Array]]:
    def negative(point: Array) -> tuple[float, Array]:
        value, gradient = density(point)
        return (-value, -gradient) if math.isfinite(value) else (1e10, np.zeros_like(point))

    return negative


def wander(
    density: Density, start: Array, rng: np.random.Generator, warm_up: int, draws: int, thin: int
) -> list[Array]:
    """Draws from the density by Hamiltonian Monte Carlo [Neal2011], `thin` proposals apart."""
    point, (value, gradient) = start, density(start)
    step, kept = STEP, []
    for turn in range(warm_up + draws * thin):
        momentum = rng.normal(size=len(point))
        length = step * rng.uniform(0.8, 1.2)
        trial, trial_value, trial_gradient, trial_momentum = _leap(density, point, gradient, momentum, length)
        change = trial_value - value + 0.5 * float(np.sum(momentum**2) - np.sum(trial_momentum**2))
        chance = math.exp(min(0.0, change)) if math.isfinite(change) else 0.0
        if rng.uniform() < chance:
            point, value, gradient = trial, trial_value, trial_gradient
        if turn < warm_up:
            step *= math.exp(0.3 * (chance - WANTED_ACCEPTANCE))
        elif (turn - warm_up + 1) % thin == 0:
            kept.append(point)
    return kept


def _leap(
    density: Density, point: Array, gradient: Array, momentum: Array, step: float
) -> tuple[Array, float, Array, Array]:
    value = -math.inf
    for _ in range(LEAPS):
        momentum = momentum + 0.5 * step * gradient
        point = point + step * momentum
        value, gradient = density(point)
        if not math.isfinite(value):
            break
        momentum = momentum + 0.5 * step * gradient
    return point, value, gradient, momentum
