"""What a covariance over arrangements can be asked, whatever it is made of."""

from collections.abc import Sequence
from typing import Protocol

from optimiser.surrogate.kernels import Pullback
from optimiser.surrogate.priors import Prior
from optimiser.surrogate.triangular import Array


class Covariance(Protocol):
    """A covariance with hyperparameters that are normal beforehand, as logarithms and logits of shape (p,)."""

    @property
    def priors(self) -> tuple[Prior, ...]:
        """One for each hyperparameter."""
        ...

    def compare(self, left: Array, right: Array) -> tuple[Array, ...]:
        """What does not depend on hyperparameters between rows (n, d) and (m, d)."""
        ...

    def covariance(self, comparisons: Sequence[Array], hyper: Array) -> Array:
        """Covariances (n, m)."""
        ...

    def covary(self, comparisons: Sequence[Array], hyper: Array) -> tuple[Array, Pullback]:
        """Covariances (n, m) and the pullback of their derivatives to the hyperparameters (p,)."""
        ...

    def alone(self, rows: Array) -> tuple[Array, ...]:
        """What the variances of rows (m, d) need and hyperparameters do not change."""
        ...

    def variance(self, hyper: Array, alone: Sequence[Array] = ()) -> Array | float:
        """The variance at each row, (m,), or one for all."""
        ...
