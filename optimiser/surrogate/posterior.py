"""What every belief about arrangements can be asked, whatever it is made of."""

from collections.abc import Sequence
from typing import Any, Protocol, Self

from optimiser.surrogate.checking import LeftOut
from optimiser.surrogate.triangular import Array


class OneMember(Protocol):
    """One member of a mixture."""

    @property
    def noise_variance(self) -> float:
        """Repeatability of a usual trial, in squared units of the belief's scale."""
        ...


class Posterior(Protocol):
    """An even mixture of beliefs in value units."""

    @property
    def members(self) -> Sequence[OneMember]:
        """The mixture."""
        ...

    @property
    def scale(self) -> float:
        """Spread of the values seen, value units in one standard unit."""
        ...

    @property
    def doubted(self) -> tuple[int, ...]:
        """Places of values that fit nothing else and count for little."""
        ...

    def predict(self, rows: Array) -> tuple[Array, Array]:
        """Mean and variance without noise under every member, both of shape (members, m)."""
        ...

    def joint(self, rows: Array, member: Any) -> tuple[Array, Array]:
        """Mean (m,) and covariance (m, m) of several rows under one member."""
        ...

    def believing(self, rows: Array) -> Self:
        """The belief after trials at these rows that turned out as expected."""
        ...

    def prior_covariance(self, left: Array, right: Array, member: Any) -> Array:
        """How far true values at two sets of rows were believed to move together, (n, m), up to a factor."""
        ...

    def left_out(self) -> LeftOut:
        """Each value against what the others say of it."""
        ...

    def day_shifts(self) -> tuple[Array, Array] | None:
        """What each day reads high by and the standard error of that, both (days,); None when all are of one day."""
        ...

    def day_variance(self) -> float:
        """Variance of what a new day may read high or low by."""
        ...

    def noise(self) -> float:
        """Standard deviation between repeats."""
        ...
