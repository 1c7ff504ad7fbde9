"""Arrangements as rows of numbers, each value of each setting encoded once only."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field

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
    _known: dict[tuple[str, Hashable], Array] = field(default_factory=dict, repr=False, compare=False)

    def __call__(self, many: Sequence[Settings]) -> Array:
        """The same rows as `encode` gives, shape (len(many), columns)."""
        blocks = encoding(self.space)
        columns = {
            block.setting: [*block.columns, *(() if block.active is None else (block.active,))] for block in blocks
        }
        rows = np.zeros((len(many), sum(len(own) for own in columns.values())))
        for name, own in columns.items():
            places = [place for place, settings in enumerate(many) if name in settings]
            if places:
                rows[np.ix_(places, own)] = [self._numbers(name, many[place], own) for place in places]
        return rows

    def _numbers(self, name: str, settings: Settings, columns: list[int]) -> Array:
        key = (name, _hashable(settings[name]))
        if key not in self._known:
            self._known[key] = encode(self.space, [settings])[0, columns]
        return self._known[key]


def _hashable(value: Value) -> Hashable:
    if isinstance(value, list):
        return tuple(value)
    return tuple(value.items()) if isinstance(value, dict) else value
