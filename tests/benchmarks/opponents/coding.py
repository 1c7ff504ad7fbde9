"""Arrangements as rows of numbers for tools that know neither riff orders nor mic spots, and back.

A riff order is one among all, a name without neighbours, and so is a mic spot: on the tuning draw no tool clearly did
better when told which riff comes before which, or a number for each riff, or the spots' coordinates (figures in
studies/proposals-benchmark/README.md). Only sheets without conditions are meant: every setting has its columns in every
row.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np

from optimiser.space import AXES, Knob, MicPlace, Setting, Settings, SettingsSpace, Stage
from optimiser.study import Study


@dataclass(frozen=True)
class Column:
    """One number of a row.

    Attributes:
        name: what a tool may call it.
        kind: `real`, `whole` (steps in order) or `name` (the index of one of several without order).
        low: its lowest value.
        high: its highest value, included.
    """

    name: str
    kind: Literal["real", "whole", "name"]
    low: float
    high: float

    @property
    def count(self) -> int:
        """How many values a column has that is not real."""
        return int(self.high - self.low) + 1

    def at(self, share: float) -> float:
        """The value at a share of the way, 0 to 1."""
        if self.kind == "real":
            return self.low + share * (self.high - self.low)
        return self.low + min(int(share * self.count), self.count - 1)


@dataclass(frozen=True)
class Coding:
    """How a space is told to a tool.

    Attributes:
        space: what may be set.
    """

    space: SettingsSpace

    @cached_property
    def columns(self) -> tuple[Column, ...]:
        """Every column, in the order of the sheet."""
        return tuple(column for setting in self.space.settings for column in _columns(setting))

    def row(self, settings: Mapping[str, Any]) -> tuple[float, ...]:
        """An arrangement as numbers."""
        return tuple(n for setting in self.space.settings for n in _numbers(setting, settings[setting.name]))

    def settings(self, row: Sequence[float]) -> Settings:
        """The arrangement nearest to a row that a hand can set."""
        numbers, settings = list(row), {}
        for setting in self.space.settings:
            width = len(_columns(setting))
            settings[setting.name] = _value(setting, numbers[:width])
            numbers = numbers[width:]
        return settings

    def permitted(self, row: Sequence[float], seed: int) -> Settings:
        """The same, or a random arrangement where the sheet forbids it."""
        asked = self.settings(row)
        return asked if self.space.allows(asked) else self.space.sample(np.random.default_rng(seed))


def told(study: Study) -> list[tuple[Settings, float]]:
    """What was tried, with its value."""
    valued = [(trial.settings, study.overall(trial)) for trial in study.in_state("measured")]
    return [(dict(settings), value[0]) for settings, value in valued if value is not None]


def _columns(setting: Setting) -> list[Column]:
    match setting:
        case Knob():
            return [Column(setting.name, "real", setting.low, setting.high)]
        case Stage():
            return [Column(setting.name, "whole", 0, len(setting.steps) - 1)]
        case MicPlace():
            spans = zip(AXES, setting.ranges, strict=True)
            return [Column(f"{setting.name}_{axis}", "real", low, high) for axis, (low, high) in spans]
    return [Column(setting.name, "name", 0, len(setting.levels() or ()) - 1)]


def _numbers(setting: Setting, value: Any) -> Sequence[float]:
    match setting:
        case Knob():
            return (float(value),)
        case MicPlace():
            return tuple(value[axis] for axis in AXES)
    return ((setting.levels() or ()).index(value),)


def _value(setting: Setting, numbers: Sequence[float]) -> Any:
    match setting:
        case Knob():
            return setting.nearest(numbers[0])
        case MicPlace():
            return setting.nearest(dict(zip(AXES, numbers, strict=True)))
    return (setting.levels() or ())[int(numbers[0])]
