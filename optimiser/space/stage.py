"""A voicing stage: a switch with few ordered steps."""

from dataclasses import dataclass
from typing import Final, cast

import numpy as np

from optimiser.space.settings import Handling, Value, as_name

DEFAULT_STAGE_MINUTES: Final = 0.2
"""Minutes to throw a switch (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Stage(Handling):
    """A switch with few ordered steps.

    Attributes:
        steps: names of the steps, from the tamest to the hardest driven.
    """

    steps: tuple[str, ...]

    def parse(self, raw: object) -> str:
        """Read the name of a step."""
        return as_name(raw, self.steps, "a step")

    def write(self, value: Value) -> str:
        """The step's name."""
        return cast(str, value)

    def show(self, value: Value) -> str:
        """The step's name."""
        return cast(str, value)

    def contains(self, value: Value) -> bool:
        """Whether the sheet has this step."""
        return value in self.steps

    def sample(self, rng: np.random.Generator) -> str:
        """A step drawn evenly."""
        return self.steps[int(rng.integers(len(self.steps)))]

    def nearest(self, value: Value) -> str:
        """The step itself."""
        return cast(str, value)

    def levels(self) -> tuple[Value, ...]:
        """Every step, in order."""
        return self.steps

    def neighbours(self, value: Value) -> tuple[Value, ...]:
        """The steps just below and above."""
        place = self.steps.index(cast(str, value))
        return tuple(self.steps[near] for near in (place - 1, place + 1) if 0 <= near < len(self.steps))
