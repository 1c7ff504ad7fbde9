"""Spaces that are related to those of the job and the parts family, as one channel of an amp is to another.

`agreeing`: what depends on gain has moved a little, each mic spot is worth a little more or less, scores count by
another scale from another level. `partly`: it has moved farther, and a third of the scores' variation is that of a
space of another seed. `misleading`: the same space with its scores upside down. All of it follows from the seed; an
unrelated space is that of the seed plus ELSEWHERE.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.study import StudySheet
from tests.benchmarks.job_family import SPOTS, JobSpace
from tests.benchmarks.parts_family import PartsSpace

Array = NDArray[np.float64]

MOVE: Final = {"agreeing": (0.05, 0.1), "partly": (0.08, 0.15)}
"""Share of the gain knob's travel by which everything that depends on gain has moved, either way: half
an hour to an hour, up to one hour and a third."""

SPOT_SD: Final = {"agreeing": 1.5, "partly": 2.0}
"""Points by which each spot is worth more or less."""

FOREIGN: Final = {"agreeing": 0.0, "partly": 1.0 / 3.0}
"""Share of the variation that belongs to another space."""

SCALE: Final = (0.7, 1.3)
OFFSET: Final = (-10.0, 10.0)
ELSEWHERE: Final = 40_000
"""Added to a seed, it gives that of an unrelated space."""


@dataclass(frozen=True)
class SisterJob(JobSpace):
    """A space beside that of the job family with the same seed.

    Attributes:
        kin: `agreeing`, `partly` or `misleading`.
    """

    kin: str = "agreeing"

    @cached_property
    def tables(self) -> tuple[Array, Array]:
        """Noiseless values and the gain grid, as of the job space."""
        table, hours = JobSpace(self.seed, self.riffs).tables
        if self.kin == "misleading":
            return 2.0 * table.mean() - table, hours
        rng = np.random.default_rng([self.seed, 21])
        moved = _moved(table, _move(rng, self.kin)) + SPOT_SD[self.kin] * rng.normal(size=SPOTS)[:, None]
        foreign = JobSpace(self.seed + 2 * ELSEWHERE, self.riffs).tables[0]
        moved = _blended(moved, foreign, FOREIGN[self.kin])
        return table.mean() + rng.uniform(*OFFSET) + rng.uniform(*SCALE) * (moved - moved.mean()), hours

    def sheet(self) -> StudySheet:
        """Its study sheet."""
        return replace(super().sheet(), name=f"sister-{self.seed}")


@dataclass(frozen=True)
class SisterParts(PartsSpace):
    """A space beside that of the parts family with the same seed.

    Attributes:
        kin: `agreeing`, `partly` or `misleading`.
    """

    kin: str = "agreeing"

    @cached_property
    def parts(self) -> dict[str, Array]:
        """Noiseless match, goal and articulation kept, as of the space with parts."""
        parts = PartsSpace(self.seed, self.rules).parts
        if self.kin == "misleading":
            return {name: part.max() + part.min() - part for name, part in parts.items()}
        rng = np.random.default_rng([self.seed, 22])
        move, spots = _move(rng, self.kin), SPOT_SD[self.kin] * rng.normal(size=SPOTS)[:, None]
        lower, foreign = rng.uniform(0.0, 10.0), PartsSpace(self.seed + 2 * ELSEWHERE, self.rules).parts
        moved = {n: _blended(_moved(part, move), foreign[n], FOREIGN[self.kin]) for n, part in parts.items()}
        return {
            "match": np.clip(moved["match"] + spots - lower, 3.0, 99.0),
            "goal": np.clip(moved["goal"] + spots - lower, 3.0, 99.0),
            "articulation_kept": moved["articulation_kept"],
        }

    def sheet(self) -> StudySheet:
        """Its study sheet."""
        return replace(super().sheet(), name=f"sister-{self.seed}")


def _move(rng: np.random.Generator, kin: str) -> float:
    return float(rng.choice([-1.0, 1.0]) * rng.uniform(*MOVE[kin]))


def _blended(table: Array, foreign: Array, share: float) -> Array:
    """As much variation as before, of which this share belongs to the foreign table."""
    centred, other = table - table.mean(), foreign - foreign.mean()
    blend = np.sqrt(1.0 - share) * centred + np.sqrt(share) * other * (centred.std() / other.std())
    return np.asarray(table.mean() + blend)


def _moved(table: Array, share: float) -> Array:
    """A table (gains, ...) whose values come at a gain that is higher by this share of the travel."""
    grid = np.linspace(0.0, 1.0, len(table))
    flat = table.reshape(len(table), -1)
    moved = np.stack([np.interp(grid - share, grid, column) for column in flat.T], axis=1)
    return moved.reshape(table.shape)
