"""Conditions on settings: when a setting exists at all, and which arrangements must never be proposed."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import cast

from optimiser.space.settings import Value


@dataclass(frozen=True)
class OneOf:
    """Holds for any of some names (steps, spots, options)."""

    names: tuple[str, ...]

    def holds(self, value: Value) -> bool:
        """Whether `value` is one of the names."""
        return value in self.names


@dataclass(frozen=True)
class Between:
    """Holds for numbers above `above` and below `below`, both excluded; None leaves a side open."""

    above: float | None = None
    below: float | None = None

    def holds(self, value: Value) -> bool:
        """Whether `value` lies strictly between the two."""
        number = cast(float, value)
        return (self.above is None or number > self.above) and (self.below is None or number < self.below)


@dataclass(frozen=True)
class PlaceWithin:
    """Holds for a free mic place whose axes lie in given spans."""

    axes: tuple[tuple[str, Between], ...]

    def holds(self, value: Value) -> bool:
        """Whether every axis named lies in its span; a saved spot's name never does."""
        return isinstance(value, dict) and all(span.holds(value[axis]) for axis, span in self.axes)


@dataclass(frozen=True)
class OrderEnds:
    """Holds for riff orders that start or end with given riffs; an empty tuple leaves an end open."""

    first: tuple[str, ...] = ()
    last: tuple[str, ...] = ()

    def holds(self, value: Value) -> bool:
        """Whether the order starts and ends so."""
        order = cast(list[str], value)
        return (not self.first or order[0] in self.first) and (not self.last or order[-1] in self.last)


Matcher = OneOf | Between | PlaceWithin | OrderEnds


@dataclass(frozen=True)
class Rule:
    """Several conditions that hold together; an arrangement in which a setting is absent does not match it."""

    conditions: tuple[tuple[str, Matcher], ...]

    def holds(self, settings: Mapping[str, Value]) -> bool:
        """Whether all conditions hold."""
        return all(name in settings and matcher.holds(settings[name]) for name, matcher in self.conditions)
