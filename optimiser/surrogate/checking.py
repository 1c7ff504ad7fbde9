"""Whether the belief deserves its own error bars: each value against what the others say of it."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from optimiser.surrogate.triangular import Array


@dataclass(frozen=True)
class LeftOut:
    """Every value against the belief without it.

    The scales stay those learnt from all values, so that the check is a little kinder than a new trial would be.

    Attributes:
        predicted: mean of what the others predict, in value units, shape (n,).
        sd: standard deviation of that, the noise of one trial included, shape (n,).
        ranks: share of the prediction that lies below the value measured, shape (n,); even between 0 and 1 when the
            error bars are right [Dawid1984].
    """

    predicted: Array
    sd: Array
    ranks: Array

    def coverage(self, level: float) -> float:
        """Share of values inside their central interval of this level; about the level when the bars are right."""
        return float(np.mean(np.abs(self.ranks - 0.5) <= 0.5 * level))


def left_out(values: Array, residuals: Array, sds: Array) -> LeftOut:
    """What leaving each value out says under every member of a mixture.

    Args:
        values: what was measured, shape (n,).
        residuals: distance of each from what the others predict under each member, shape (members, n).
        sds: standard deviation of that, the noise of one trial included, shape (members, n).
    """
    ranks = np.asarray(ndtr(residuals / sds).mean(axis=0))
    spread = np.sqrt((sds**2).mean(axis=0) + residuals.var(axis=0))
    return LeftOut(values - residuals.mean(axis=0), spread, ranks)
