"""All settings of a chain together: what may be set, what exists when, and what must never be proposed."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from math import prod
from typing import Final

import numpy as np

from optimiser.errors import NOTHING, Fault, InvalidSettings, NothingLeft, as_written
from optimiser.space.asking import allowed_in_words, example_of
from optimiser.space.rules import Rule
from optimiser.space.settings import Setting, Settings, UnreadableValue, Value

_TRIES: Final = 2000
"""Draws before a space whose rules forbid nearly everything is called empty."""


@dataclass(frozen=True)
class SettingsSpace:
    """The settings of a chain and the rules between them.

    Attributes:
        settings: every setting, in the order of the sheet.
        never: arrangements that must not be proposed.
    """

    settings: tuple[Setting, ...]
    never: tuple[Rule, ...] = ()

    @cached_property
    def by_name(self) -> dict[str, Setting]:
        """The settings by name."""
        return {setting.name: setting for setting in self.settings}

    @cached_property
    def in_order(self) -> tuple[Setting, ...]:
        """The settings, each after those on which its condition depends.

        Raises:
            ValueError: conditions that depend on each other in a circle.
        """
        placed: list[Setting] = []
        waiting = list(self.settings)
        while waiting:
            names = {setting.name for setting in placed}
            ready = [setting for setting in waiting if _needs(setting) <= names]
            if not ready:
                raise ValueError("only_when conditions depend on each other in a circle")
            placed += ready
            waiting = [setting for setting in waiting if setting not in ready]
        return tuple(placed)

    def exists(self, name: str, settings: Mapping[str, Value]) -> bool:
        """Whether the setting `name` exists beside these other settings."""
        condition = self.by_name[name].only_when
        return condition is None or condition.holds(settings)

    def parse(self, raw: Mapping[str, object]) -> Settings:
        """Read a whole arrangement; `mic.radial_mm` and the like are gathered into one place.

        Values outside the sheet's ranges are read all the same: see `outside`.

        Raises:
            InvalidSettings: unknown, unreadable, missing or meaningless entries, all of them at once.
        """
        values, faults = self._read(raw)
        settings: Settings = {}
        for setting in self.in_order:
            name = setting.name
            if not self.exists(name, settings):
                if name in values:
                    faults.append(_needless(setting, values[name]))
            elif name in values:
                settings[name] = values[name]
            elif not any(fault.key == name for fault in faults):
                faults.append(_missing(setting))
        if faults:
            raise InvalidSettings(faults)
        return self.sorted(settings)

    def parse_some(self, raw: Mapping[str, object]) -> Settings:
        """Read some settings, as for a lock.

        Raises:
            InvalidSettings: unknown or unreadable entries, all of them at once.
        """
        values, faults = self._read(raw)
        if faults:
            raise InvalidSettings(faults)
        return values

    def readable(self, raw: Mapping[str, object]) -> Settings:
        """What of an arrangement can be read, whatever else is wrong with it."""
        values, _ = self._read(raw)
        return self.sorted(values)

    def _read(self, raw: Mapping[str, object]) -> tuple[Settings, list[Fault]]:
        values: Settings = {}
        faults: list[Fault] = []
        for name, entry in _gathered(raw).items():
            setting = self.by_name.get(name)
            if setting is None:
                known = ", ".join(self.by_name)
                faults.append(Fault("", name, "a setting that the sheet lacks", f"one of {known}", "mend the name"))
                continue
            try:
                values[name] = setting.parse(entry)
            except UnreadableValue as fault:
                faults.append(Fault("", name, as_written(entry), fault.expected, fault.mend))
        return values, faults

    def sorted(self, settings: Mapping[str, Value]) -> Settings:
        """The same settings in the order of the sheet."""
        return {name: settings[name] for name in self.by_name if name in settings}

    def outside(self, settings: Mapping[str, Value]) -> tuple[str, ...]:
        """Names of settings outside the sheet's ranges, and `never` when a forbidden arrangement matches."""
        names = [name for name, value in settings.items() if not self.by_name[name].contains(value)]
        return (*names, "never") if any(rule.holds(settings) for rule in self.never) else tuple(names)

    def allows(self, settings: Mapping[str, Value]) -> bool:
        """Whether the arrangement may be proposed: complete, within every range, forbidden by no rule."""
        return self.is_whole(settings) and not self.outside(settings)

    def is_whole(self, settings: Mapping[str, Value]) -> bool:
        """Whether an arrangement has every setting that exists beside the others, and no other one."""
        return {name for name in self.by_name if self.exists(name, settings)} == set(settings)

    def complete(self, settings: Mapping[str, Value], spare: Mapping[str, Value]) -> Settings:
        """Settings made whole: absent ones that exist taken from `spare`, those that do not exist left out."""
        whole: Settings = {}
        for setting in self.in_order:
            if self.exists(setting.name, whole):
                source = settings if setting.name in settings else spare
                whole[setting.name] = source[setting.name]
        return self.sorted(whole)

    def sample(self, rng: np.random.Generator, locked: Mapping[str, Value] | None = None) -> Settings:
        """An arrangement drawn evenly from what may be proposed, with `locked` settings kept.

        Raises:
            NothingLeft: no such arrangement turns up.
        """
        locked = locked or {}
        for _ in range(_TRIES):
            drawn = {setting.name: setting.sample(rng) for setting in self.settings}
            settings = self.complete(locked, drawn)
            if not any(rule.holds(settings) for rule in self.never):
                return settings
        raise NothingLeft(
            "No arrangement is left that may be proposed.", "Loosen a lock or a [[never]] table of the study sheet."
        )

    def count(self) -> float:
        """How many arrangements can be counted, infinity when a knob or a free place is among them."""
        sizes = [setting.levels() for setting in self.settings]
        return prod(float(len(size)) if size is not None else float("inf") for size in sizes)

    def key(self, settings: Mapping[str, Value]) -> tuple[tuple[str, str], ...]:
        """A hashable stand-in: equal for equal arrangements, whatever their order of names."""
        return tuple((name, self.by_name[name].write(settings[name])) for name in self.by_name if name in settings)

    def show(self, settings: Mapping[str, Value]) -> dict[str, str]:
        """Every value as people say it."""
        return {name: self.by_name[name].show(value) for name, value in self.sorted(settings).items()}

    def write(self, settings: Mapping[str, Value]) -> dict[str, str]:
        """Every value as text from which `parse` gives the same arrangement back."""
        return dict(self.key(settings))


def _needs(setting: Setting) -> set[str]:
    return {name for name, _ in setting.only_when.conditions} if setting.only_when else set()


def _missing(setting: Setting) -> Fault:
    word = f"{setting.name}={example_of(setting)}"
    quoted = f'"{word}"' if " " in word else word
    return Fault("", setting.name, NOTHING, allowed_in_words(setting), f"add for example --set {quoted}")


def _needless(setting: Setting, value: Value) -> Fault:
    others = ", ".join(sorted(_needs(setting)))
    return Fault("", setting.name, setting.show(value), f"nothing, since {others} rules it out", "leave it out")


def _gathered(raw: Mapping[str, object]) -> dict[str, object]:
    """Entries such as `mic.radial_mm` put together under `mic`."""
    plain: dict[str, object] = {name: entry for name, entry in raw.items() if "." not in name}
    for name, entry in _dotted(raw):
        setting, axis = name.split(".", 1)
        inner = plain.setdefault(setting, {})
        if isinstance(inner, dict):
            plain[setting] = {**inner, axis: entry}
    return plain


def _dotted(raw: Mapping[str, object]) -> Iterable[tuple[str, object]]:
    return ((name, entry) for name, entry in raw.items() if "." in name)
