"""How much a trial promises: expected improvement, on a logarithmic scale that never runs out of digits."""

import math
from typing import Final, cast

import numpy as np
from scipy.special import erfcx, log_ndtr, logsumexp, ndtr

from optimiser.surrogate import Array

_LOG_ROOT_TAU: Final = 0.5 * math.log(2.0 * math.pi)
_ROOT_HALF_PI: Final = math.sqrt(0.5 * math.pi)
_ROOT_HALF: Final = math.sqrt(0.5)


def log_h(z: Array) -> Array:
    """log(pdf(z) + z cdf(z)) for the standard normal, to full precision at any z [Ament2023].

    Above -1 it is computed as written. Below, pdf(z) is taken out: log pdf(z) + log(1 - |z| sqrt(pi / 2) erfcx(-z /
    sqrt 2)); far below, where that difference has no digits left, by its series 1 / z^2 - 3 / z^4 + 15 / z^6.
    """
    z = np.maximum(np.asarray(z, dtype=float), -1e100)
    result = np.empty_like(z)
    near, far = z > -1.0, z < -150.0
    result[near] = np.log(np.exp(-0.5 * z[near] ** 2 - _LOG_ROOT_TAU) + z[near] * ndtr(z[near]))
    middle = z[~near & ~far]
    rest = 1.0 + middle * _ROOT_HALF_PI * erfcx(-middle * _ROOT_HALF)
    result[~near & ~far] = -0.5 * middle**2 - _LOG_ROOT_TAU + np.log(rest)
    least = z[far]
    inverse = least**-2.0
    series = inverse * (1.0 - 3.0 * inverse + 15.0 * inverse**2)
    result[far] = -0.5 * least**2 - _LOG_ROOT_TAU + np.log(series)
    return result


def log_expected_improvement(mean: Array, sd: Array, best: Array | float) -> Array:
    """Log E[max(f - best, 0)] for f normal with this mean and sd, maximising [Jones1998] [Ament2023].

    Where sd is 0 it is log(mean - best), or minus infinity when nothing is gained.
    """
    mean, sd, best = np.broadcast_arrays(np.asarray(mean, dtype=float), sd, best)
    result = np.full(mean.shape, -math.inf)
    certain = sd <= 0.0
    gained = certain & (mean > best)
    result[gained] = np.log(mean[gained] - best[gained])
    z = (mean[~certain] - best[~certain]) / sd[~certain]
    result[~certain] = np.log(sd[~certain]) + log_h(z)
    return result


def averaged(log_values: Array) -> Array:
    """Log of the mean of exp over the first axis, (members, m) to (m,)."""
    return cast(Array, logsumexp(log_values, axis=0)) - math.log(len(log_values))


def chance_above(means: Array, sds: Array, best: Array) -> Array:
    """Chance (m,) to lie above `best` (members, 1) under an even mixture of normals (members, m)."""
    safe = np.maximum(sds, 1e-12)
    return np.asarray(np.exp(log_ndtr((means - best) / safe)).mean(axis=0))


def knowledge_gradient(means: Array, slopes: Array) -> float:
    """E[max_i (mean_i + slope_i Z)] - max_i mean_i for one standard normal Z [Frazier2009].

    Args:
        means: means of alternatives before one more measurement, shape (m,).
        slopes: how far each mean moves for one standard deviation of that measurement, shape (m,).
    """
    order = np.lexsort((means, slopes))
    upper: list[tuple[float, float]] = []
    knots: list[float] = []
    for height, slope in zip(means[order].tolist(), slopes[order].tolist(), strict=True):
        if upper and upper[-1][1] == slope:
            upper.pop()
            if knots:
                knots.pop()
        while upper:
            cut = (upper[-1][0] - height) / (slope - upper[-1][1])
            if knots and cut <= knots[-1]:
                upper.pop()
                knots.pop()
                continue
            knots.append(cut)
            break
        upper.append((height, slope))
    gains = np.diff([slope for _, slope in upper]) * np.exp(log_h(-np.abs(np.array(knots))))
    return float(gains.sum())
