"""What we believe of arrangements that were never tried.

Enters: rows of numbers, what their columns mean, values and their errors. Leaves: means, variances, draws, and how
well the belief predicts what it has not seen. Knows nothing of studies, trials, riffs or scores.
"""

from optimiser.surrogate.advice import Advice, advised, weights_of
from optimiser.surrogate.assembly import KernelChoices, kernel_of
from optimiser.surrogate.bounded import bounded
from optimiser.surrogate.checking import LeftOut
from optimiser.surrogate.covariance import Covariance
from optimiser.surrogate.fitting import USUAL_SPREAD, Effort, Fitted, Member, fit, mixture
from optimiser.surrogate.gaussian_process import Conditioned, condition, draw
from optimiser.surrogate.mixed_kernel import MixedKernel, Term
from optimiser.surrogate.posterior import Posterior
from optimiser.surrogate.priors import Prior
from optimiser.surrogate.product import Product, product
from optimiser.surrogate.trend import FLAT, Trend
from optimiser.surrogate.triangular import Array, times

__all__ = [
    "FLAT",
    "USUAL_SPREAD",
    "Advice",
    "Array",
    "Conditioned",
    "Covariance",
    "Effort",
    "Fitted",
    "KernelChoices",
    "LeftOut",
    "Member",
    "MixedKernel",
    "Posterior",
    "Prior",
    "Product",
    "Term",
    "Trend",
    "advised",
    "bounded",
    "condition",
    "draw",
    "fit",
    "kernel_of",
    "mixture",
    "product",
    "times",
    "weights_of",
]
