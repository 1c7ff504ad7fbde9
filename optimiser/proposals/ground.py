"""The arrangements that may be proposed, and the numbers in them that can be turned."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final, cast

import numpy as np

from optimiser.errors import NothingLeft
from optimiser.space import AXES, Knob, MicPlace, Settings, SettingsSpace, Value
from optimiser.surrogate import Array

DECLINED_SHARE: Final = 0.03
"""Numbers nearer than this share of their range to those of a declined arrangement count as the same (no source)."""


@dataclass(frozen=True)
class Axis:
    """One continuous number of an arrangement: a knob, or one coordinate of a free mic.

    Attributes:
        setting: the setting's name.
        part: the coordinate's name, empty for a knob.
        low: lowest value.
        high: highest value.
        tolerance: how exactly a hand sets it.
    """

    setting: str
    part: str
    low: float
    high: float
    tolerance: float

    def read(self, settings: Mapping[str, Value]) -> float:
        """The number in an arrangement that has the setting."""
        value: Any = settings[self.setting]
        return float(value[self.part] if self.part else value)

    def third(self, settings: Mapping[str, Value]) -> int:
        """0, 1 or 2: in which third of its range the number lies."""
        share = (self.read(settings) - self.low) / (self.high - self.low)
        return min(2, max(0, int(3.0 * share)))

    def write(self, settings: Settings, number: float, space: SettingsSpace) -> Settings:
        """The arrangement with the nearest settable number."""
        raw: Value = {**cast(dict[str, float], settings[self.setting]), self.part: number} if self.part else number
        return {**settings, self.setting: space.by_name[self.setting].nearest(raw)}


@dataclass(frozen=True)
class Ground:
    """The arrangements that may be proposed.

    Attributes:
        space: what may be set.
        locked: settings that are kept, even outside their range.
        declined: arrangements that must not come again, nor any that are nearly the same.
        made: arrangements that must not come again.
    """

    space: SettingsSpace
    locked: Settings
    declined: tuple[Settings, ...] = ()
    made: tuple[Settings, ...] = ()

    @cached_property
    def axes(self) -> tuple[Axis, ...]:
        """Every number that is not locked."""
        return tuple(axis for axis in self._all_axes if axis.setting not in self.locked)

    @cached_property
    def _all_axes(self) -> tuple[Axis, ...]:
        axes = []
        for setting in self.space.settings:
            if isinstance(setting, Knob):
                axes.append(Axis(setting.name, "", setting.low, setting.high, setting.tolerance))
            if isinstance(setting, MicPlace):
                spans = zip(AXES, setting.ranges, strict=True)
                axes += [
                    Axis(setting.name, axis, *span, setting.tolerance) for axis, span in spans if span[0] < span[1]
                ]
        return tuple(axes)

    @cached_property
    def conditional(self) -> bool:
        """Whether some setting exists only under a condition."""
        return any(setting.only_when is not None for setting in self.space.settings)

    @cached_property
    def _barred(self) -> dict[tuple[object, ...], tuple[Array, Array]]:
        """Numbers of barred arrangements and how near counts as the same for each, by their other values."""
        barred: dict[tuple[object, ...], list[tuple[list[float], list[float]]]] = {}
        for group, share in ((self.declined, DECLINED_SHARE), (self.made, 0.0)):
            reach = [max(share * (axis.high - axis.low), 0.5 * axis.tolerance) for axis in self._all_axes]
            for settings in group:
                barred.setdefault(self._names(settings), []).append((self._numbers(settings), reach))
        return {
            names: (np.array([numbers for numbers, _ in own]), np.array([reach for _, reach in own]))
            for names, own in barred.items()
        }

    @cached_property
    def _numeric(self) -> frozenset[str]:
        return frozenset(axis.setting for axis in self._all_axes)

    def _names(self, settings: Settings) -> tuple[object, ...]:
        """What an arrangement has besides numbers."""
        numeric = self._numeric
        return tuple(
            [
                (name, None if name in numeric else tuple(value) if isinstance(value, list) else str(value))
                for name, value in settings.items()
            ]
        )

    def _numbers(self, settings: Settings) -> list[float]:
        return [axis.read(settings) if axis.setting in settings else 0.0 for axis in self._all_axes]

    def mark(self, settings: Settings) -> Hashable:
        """A hashable stand-in, equal for equal arrangements whose settings come in the same order."""
        return self._names(settings), tuple(self._numbers(settings))

    def permits(self, settings: Settings) -> bool:
        """Whether an arrangement may be proposed."""
        if any(name not in self.locked for name in self.space.outside(settings)):
            return False
        if any(name in settings and settings[name] != value for name, value in self.locked.items()):
            return False
        near = self._barred.get(self._names(settings))
        if near is None:
            return True
        numbers, reach = near
        return not bool((np.abs(numbers - self._numbers(settings)) <= reach).all(axis=1).any())

    def without(self, *made: Settings) -> "Ground":
        """The same ground with further arrangements taken out."""
        return replace(self, made=(*self.made, *made))


def nothing_left() -> NothingLeft:
    """What is raised when no arrangement may be proposed."""
    return NothingLeft(
        "No arrangement is left that may be proposed.",
        "Loosen a lock or a [[never]] table of the study sheet, or take back one that was put aside.",
    )
