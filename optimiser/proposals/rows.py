"""Arrangements as rows of numbers, each value of each setting encoded once only."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from optimiser.space import Settings, SettingsSpace, Value, encode, encoding
from optimiser.surrogate import Array


@dataclass(frozen=True)
class Encoder:
    """Encodes many arrangements of one space and remembers what each value looks like.

    Attributes:
        space: what may be set.
    """

    space: SettingsSpace
    _known: dict[str, dict[Hashable, list[float]]] = field(default_factory=dict, repr=False, compare=False)

    def __call__(self, many: Sequence[Settings]) -> Array:
        """The same rows as `encode` gives, shape (len(many), columns)."""
        rows = np.zeros((len(many), sum(len(own) for own in self._columns.values())))
        for name, own in self._columns.items():
            places = [place for place, settings in enumerate(many) if name in settings]
            if places:
                rows[np.ix_(places, own)] = self._numbers(name, [many[place][name] for place in places])
        return rows

    @cached_property
    def _columns(self) -> dict[str, list[int]]:
        return {
            block.setting: [*block.columns, *(() if block.active is None else (block.active,))]
            for block in encoding(self.space)
        }

    def _numbers(self, name: str, values: Sequence[Value]) -> list[list[float]]:
        """What each value of one setting looks like."""
        known, columns = self._known.setdefault(name, {}), self._columns[name]
        keys = [_hashable(value) for value in values]
        fresh = {key: {name: value} for key, value in zip(keys, values, strict=True) if key not in known}
        if fresh:
            known |= zip(fresh, encode(self.space, list(fresh.values()))[:, columns].tolist(), strict=True)
        return [known[key] for key in keys]


def _hashable(value: Value) -> Hashable:
    if isinstance(value, list):
        return tuple(value)
    return tuple(value.items()) if isinstance(value, dict) else value
