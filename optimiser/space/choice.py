"""A choice between unordered alternatives, such as the cabinet."""

from dataclasses import dataclass
from typing import Final, cast

import numpy as np

from optimiser.space.settings import Handling, Value, as_name

DEFAULT_CHOICE_MINUTES: Final = 1.0
"""Minutes to re-plug or switch over (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Choice(Handling):
    """Unordered alternatives, with or without numbers that describe them.

    Attributes:
        options: names of the alternatives.
        descriptors: names of the describing numbers, empty when there are none.
        described: for each option its describing numbers, in the order of `descriptors`.
    """

    options: tuple[str, ...]
    descriptors: tuple[str, ...] = ()
    described: tuple[tuple[float, ...], ...] = ()

    def parse(self, raw: object) -> str:
        """Read the name of an option."""
        return as_name(raw, self.options, "an option")

    def write(self, value: Value) -> str:
        """The option's name."""
        return cast(str, value)

    def show(self, value: Value) -> str:
        """The option's name."""
        return cast(str, value)

    def contains(self, value: Value) -> bool:
        """Whether the sheet has this option."""
        return value in self.options

    def sample(self, rng: np.random.Generator) -> str:
        """An option drawn evenly."""
        return self.options[int(rng.integers(len(self.options)))]

    def nearest(self, value: Value) -> str:
        """The option itself."""
        return cast(str, value)

    def levels(self) -> tuple[Value, ...]:
        """Every option."""
        return self.options

    def neighbours(self, value: Value) -> tuple[Value, ...]:
        """Every other option."""
        return tuple(option for option in self.options if option != value)
