"""The order in which riffs are sent while the capture device learns: all of them, or some."""

from dataclasses import dataclass
from itertools import permutations
from math import perm
from typing import Final, cast

import numpy as np

from optimiser.space.settings import Handling, UnreadableValue, Value, as_name

DEFAULT_ORDER_MINUTES: Final = 0.3
"""Minutes to load another learning reel (common practice, no source)."""

COUNTABLE_ORDERS: Final = 5040
"""Orders of seven riffs; more than these are searched by swaps instead of being listed."""


@dataclass(frozen=True, kw_only=True)
class RiffOrder(Handling):
    """An order of riffs.

    Attributes:
        riffs: names of all riffs.
        use: how many of them are played.
    """

    riffs: tuple[str, ...]
    use: int

    def parse(self, raw: object) -> list[str]:
        """Read `a,b,c` or a list of names; fewer or more than `use` riffs are readable, twice the same is not."""
        names = raw.split(",") if isinstance(raw, str) else raw
        expected = f"an order of {self.use} of {', '.join(self.riffs)}"
        mend = "write the riffs' names with commas between, each once"
        if not isinstance(names, list | tuple) or not names:
            raise UnreadableValue(expected, mend)
        order = [as_name(name, self.riffs, "riffs") for name in names]
        if len(set(order)) < len(order):
            raise UnreadableValue(expected, mend)
        return order

    def write(self, value: Value) -> str:
        """The names with commas between."""
        return ",".join(cast(list[str], value))

    def show(self, value: Value) -> str:
        """The names with commas between, in playing order."""
        return ", ".join(cast(list[str], value))

    def contains(self, value: Value) -> bool:
        """Whether as many riffs are played as the sheet asks for."""
        return len(cast(list[str], value)) == self.use

    def sample(self, rng: np.random.Generator) -> list[str]:
        """An order drawn evenly."""
        return [self.riffs[place] for place in rng.permutation(len(self.riffs))[: self.use]]

    def nearest(self, value: Value) -> list[str]:
        """The order itself."""
        return list(cast(list[str], value))

    def levels(self) -> tuple[Value, ...] | None:
        """Every order, while there are at most 5040."""
        if perm(len(self.riffs), self.use) > COUNTABLE_ORDERS:
            return None
        return tuple(list(order) for order in permutations(self.riffs, self.use))

    def neighbours(self, value: Value) -> tuple[Value, ...]:
        """Orders one swap of neighbours away, or with one riff replaced by one that is not played."""
        order = cast(list[str], value)
        swapped = [[*order[:i], order[i + 1], order[i], *order[i + 2 :]] for i in range(len(order) - 1)]
        spare = [riff for riff in self.riffs if riff not in order]
        replaced = [[*order[:i], riff, *order[i + 1 :]] for i in range(len(order)) for riff in spare]
        return tuple(swapped + replaced)

    def positions(self, value: Value) -> tuple[int, ...]:
        """Position of each riff of the sheet, counted from 0; those not played all stand at the end."""
        order = cast(list[str], value)
        return tuple(order.index(riff) if riff in order else len(order) for riff in self.riffs)
