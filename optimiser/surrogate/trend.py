"""A part of the mean that is believed beforehand: features times slopes that the values may overrule."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.surrogate.priors import Prior
from optimiser.surrogate.triangular import Array


@dataclass(frozen=True)
class Trend:
    """mean(row) = sum over q of slope_q x feature_q(row), each slope normal beforehand.

    Attributes:
        features: from rows (m, d) to features (m, q).
        slopes: prior of each slope, in value units.
    """

    features: Callable[[Array], Array]
    slopes: tuple[Prior, ...]

    def scaled(self, scale: float) -> "Trend":
        """The same trend of values that are divided by `scale`."""
        return Trend(self.features, tuple(Prior(prior.mean / scale, prior.sd / scale) for prior in self.slopes))

    def mean(self, features: Array, hyper: Array) -> Array:
        """The trend (m,) of features (m, q) under hyperparameters that end with the slopes."""
        return np.asarray(np.einsum("mq,q->m", features, hyper[len(hyper) - len(self.slopes) :]))

    def pull(self, features: Array, hyper: Array, upstream: Array) -> Array:
        """From a derivative with respect to the trend (m,) to one with respect to all hyperparameters (p,)."""
        found = np.zeros(len(hyper))
        found[len(hyper) - len(self.slopes) :] = np.einsum("mq,m->q", features, upstream)
        return found


def _none(rows: Array) -> Array:
    return np.zeros((len(rows), 0))


FLAT: Final = Trend(_none, ())
"""No trend."""
