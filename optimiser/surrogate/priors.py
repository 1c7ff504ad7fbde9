"""What is believed of a kernel's scales before any trial: log-normal for what is positive, logit-normal for shares.

Every hyperparameter is handled as a real number that is normal beforehand: the logarithm of a scale or variance, or
the logit of a share. A wide prior would let ten trials fit nearly anything; these were set by trying the search on
synthetic spaces of its own kind (studies/proposals-benchmark), in the spirit of [Hvarfner2024].
"""

import math
from dataclasses import dataclass
from typing import Self


@dataclass(frozen=True)
class Prior:
    """A normal distribution over a logarithm or a logit.

    Attributes:
        mean: its mean.
        sd: its standard deviation, above 0.
    """

    mean: float
    sd: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.mean) and math.isfinite(self.sd) and self.sd > 0):
            raise ValueError(f"a prior needs a finite mean and an sd above 0, not {self.mean} and {self.sd}")

    @classmethod
    def of_scale(cls, median: float, sd: float) -> Self:
        """Log-normal with this median; `sd` is that of the natural logarithm."""
        return cls(math.log(median), sd)

    @classmethod
    def of_share(cls, median: float, sd: float) -> Self:
        """Logit-normal with this median between 0 and 1."""
        return cls(math.log(median / (1.0 - median)), sd)
