"""Moments of what is believed of a value that cannot leave its scale."""

from typing import Final

import numpy as np
from scipy.special import ndtr

from optimiser.surrogate.triangular import Array

SURE: Final = 1e-9
"""Share of the scale below which a standard deviation is none."""


def bounded(means: Array, variances: Array, low: float, high: float) -> tuple[Array, Array]:
    """Mean and standard deviation (m,) of an even mixture of normals (members, m) whose values stay within a scale.

    Whatever lies beyond an end counts as that end: the censored normal distribution, by its closed form.

    Args:
        means: of each member, shape (members, m), in value units.
        variances: of each member, shape (members, m), in squared value units.
        low: lower end of the scale.
        high: upper end of the scale.
    """
    sds = np.maximum(np.sqrt(variances), SURE * (high - low))
    below, above = (low - means) / sds, (high - means) / sds
    under, over = ndtr(below), ndtr(-above)
    inside, at_low, at_high = 1.0 - under - over, _density(below), _density(above)
    slope = sds * (at_low - at_high)
    centre = np.clip((low * under + high * over + means * inside + slope).mean(axis=0), low, high)
    off = means - centre
    squares = (
        (low - centre) ** 2 * under
        + (high - centre) ** 2 * over
        + (off**2 + sds**2) * inside
        + off * slope
        + sds * ((low - centre) * at_low - (high - centre) * at_high)
    )
    return centre, np.sqrt(np.maximum(squares.mean(axis=0), 0.0))


def _density(values: Array) -> Array:
    return np.asarray(np.exp(-0.5 * values**2) / np.sqrt(2.0 * np.pi))
