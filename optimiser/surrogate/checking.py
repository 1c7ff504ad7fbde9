"""Whether the belief deserves its own error bars: each value against what the others say of it."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from optimiser.surrogate.fitting import Fitted
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


def leave_one_out(fitted: Fitted) -> LeftOut:
    """Leave each value out in turn, under every member of the belief [Rasmussen2006] section 5.4.2."""
    values = fitted.observations.values
    means, variances = np.empty((2, len(fitted.members), len(values)))
    for index, member in enumerate(fitted.members):
        residuals, variances[index] = member.conditioned.leave_one_out()
        means[index] = values - residuals
    ranks = ndtr((values - means) / np.sqrt(variances)).mean(axis=0)
    sd = np.sqrt(variances.mean(axis=0) + means.var(axis=0))
    return LeftOut(fitted.centre + fitted.scale * means.mean(axis=0), fitted.scale * sd, np.asarray(ranks))
