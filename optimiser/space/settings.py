"""What a value of a setting may be, and what every kind of setting can do."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Protocol

import numpy as np

Value = float | str | list[str] | dict[str, float]
"""A knob's number, a name, an order of names, or a free mic place."""

Settings = dict[str, Value]
"""One arrangement: a value for each setting that exists in it. Treated as a value, never changed in place."""

NAME_LIMIT: Final = 40
"""Characters in a name, so that it fits a column of the terminal."""


class UnreadableValue(ValueError):
    """A value that no kind of reading makes sense of.

    Args:
        expected: what may stand there.
        mend: what to write instead.
    """

    def __init__(self, expected: str, mend: str) -> None:
        super().__init__(f"expected {expected}; {mend}")
        self.expected = expected
        self.mend = mend


class Condition(Protocol):
    """Something that holds for an arrangement or not."""

    @property
    def conditions(self) -> tuple[tuple[str, Any], ...]:
        """Names of the settings looked at, each with what is asked of it."""

    def holds(self, settings: Mapping[str, Value]) -> bool:
        """Whether it holds for these settings."""


class Setting(Protocol):
    """What every kind of setting offers; values are in the form that JSON carries."""

    @property
    def name(self) -> str:
        """The setting's name in the sheet."""

    @property
    def effort_minutes(self) -> float:
        """Minutes that a change of this setting costs, on top of the trial."""

    @property
    def only_when(self) -> Condition | None:
        """The condition under which the setting exists; None when it always does."""

    def parse(self, raw: object) -> Value:
        """Read a value from a number, a name, a list, a mapping or text; raise UnreadableValue."""

    def write(self, value: Value) -> str:
        """Text from which `parse` gives exactly `value` back."""

    def show(self, value: Value) -> str:
        """The value as people say it."""

    def contains(self, value: Value) -> bool:
        """Whether the value lies within the sheet's range."""

    def sample(self, rng: np.random.Generator) -> Value:
        """A value drawn evenly from the sheet's range."""

    def nearest(self, value: Value) -> Value:
        """The value within the range that a hand can set, nearest to `value`."""

    def levels(self) -> tuple[Value, ...] | None:
        """Every value, where they can be counted, else None."""

    def neighbours(self, value: Value) -> tuple[Value, ...]:
        """The values one small change away, where values can be counted."""


@dataclass(frozen=True, kw_only=True)
class Handling:
    """What it takes to change a setting.

    Attributes:
        name: the setting's name in the sheet.
        effort_minutes: minutes on top of the trial whenever it changes.
        only_when: condition under which the setting exists; None when it always does.
    """

    name: str
    effort_minutes: float
    only_when: Condition | None = None


def as_number(raw: object, expected: str, mend: str) -> float:
    """A finite number from a number or its text, else UnreadableValue."""
    if isinstance(raw, bool) or not isinstance(raw, int | float | str | np.number):
        raise UnreadableValue(expected, mend)
    try:
        number = float(raw)
    except (ValueError, OverflowError):
        raise UnreadableValue(expected, mend) from None
    if not np.isfinite(number):
        raise UnreadableValue(expected, mend)
    return number


def as_name(raw: object, names: tuple[str, ...], what: str) -> str:
    """One of `names`, regardless of case and outer blanks, else UnreadableValue."""
    if isinstance(raw, str):
        if raw in names:
            return raw
        folded = [name for name in names if name.casefold() == raw.strip().casefold()]
        if len(folded) == 1:
            return folded[0]
    raise UnreadableValue(f"one of {', '.join(names)}", f"use {what} of the sheet, or add it there")
