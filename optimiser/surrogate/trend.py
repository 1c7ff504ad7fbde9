"""A part of the mean that is believed beforehand: features times slopes that the values may overrule."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.surrogate.priors import Prior
from optimiser.surrogate.triangular import Array


@dataclass(frozen=True)
class Trend:
    """A sum over q of slope_q x feature_q(row), each slope normal beforehand [Rasmussen2006] section 2.7.

    The slopes are never fitted: what is not known of them is a part of the covariance.

    Attributes:
        features: from rows (m, d) to features (m, q).
        slopes: prior of each slope, in value units.
    """

    features: Callable[[Array], Array]
    slopes: tuple[Prior, ...]

    def scaled(self, scale: float) -> "Trend":
        """The same trend of values that are divided by `scale`."""
        return Trend(self.features, tuple(Prior(prior.mean / scale, prior.sd / scale) for prior in self.slopes))

    def mean(self, features: Array) -> Array:
        """What is expected (m,) at features (m, q)."""
        return np.asarray(np.einsum("mq,q->m", features, [prior.mean for prior in self.slopes]))

    def covariance(self, left: Array, right: Array) -> Array:
        """How far both move together (n, m) for what is not known of the slopes, at features (n, q) and (m, q)."""
        return np.asarray(np.einsum("nq,mq,q->nm", left, right, [prior.sd**2 for prior in self.slopes]))

    def variance(self, features: Array) -> Array:
        """The same at each row of features (m, q) by itself, (m,)."""
        return np.asarray(np.einsum("mq,q->m", features**2, [prior.sd**2 for prior in self.slopes]))


def _none(rows: Array) -> Array:
    return np.zeros((len(rows), 0))


FLAT: Final = Trend(_none, ())
"""No trend."""
