"""A continuous setting: a dial spoken of as a clock face, or a number with a unit."""

import math
from dataclasses import dataclass
from typing import Final, Literal, cast

import numpy as np

from optimiser.space.settings import Handling, UnreadableValue, Value, as_number
from optimiser.units import check_dial, exact_clock, parse_clock, show_clock, show_number, whole_minutes

DEFAULT_KNOB_MINUTES: Final = 0.2
"""Minutes to turn one knob (common practice, no source)."""

DEFAULT_CLOCK_TOLERANCE_HOURS: Final = 1 / 12
"""Hours, five minutes on the face: how exactly a hand sets a dial (common practice, no source)."""

DEFAULT_NUMBER_STEPS: Final = 100
"""A number is set to a hundredth of its range unless the sheet says otherwise (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Knob(Handling):
    """A continuous setting.

    Attributes:
        scale: `clock` (hours round the dial, 7 to 17) or `number`.
        low: lowest value to be proposed, in hours or in the unit.
        high: highest value to be proposed.
        tolerance: how exactly a hand sets it; proposals are multiples of it from `low`.
        unit: unit of a number, empty when it has none.
    """

    scale: Literal["clock", "number"]
    low: float
    high: float
    tolerance: float
    unit: str = ""

    def parse(self, raw: object) -> float:
        """Read `1:30`, `13:30` or 13.5 on a clock; `-3`, `-3 dB` or -3.0 as a number."""
        if self.scale == "clock":
            return self._parse_clock(raw)
        if isinstance(raw, str) and self.unit:
            raw = raw.strip().removesuffix(self.unit)
        expected = f"a number{' in ' + self.unit if self.unit else ''}"
        return as_number(raw, expected, f"write one such as {show_number(self.low)}")

    def _parse_clock(self, raw: object) -> float:
        mend = "write a clock time from 7:00 round to 5:00, such as 1:30, or hours such as 13.5"
        if isinstance(raw, str) and ":" in raw:
            try:
                return parse_clock(raw)
            except ValueError:
                raise UnreadableValue("a time on the dial", mend) from None
        hours = as_number(raw, "a time on the dial", mend)
        try:
            return check_dial(hours)
        except ValueError:
            raise UnreadableValue("a time on the dial", mend) from None

    def write(self, value: Value) -> str:
        """Text from which `parse` gives exactly `value` back."""
        number = cast(float, value)
        exact = exact_clock(number) if self.scale == "clock" else number
        return exact if isinstance(exact, str) else repr(exact)

    def show(self, value: Value) -> str:
        """`1:30` on a clock, `-3 dB` as a number."""
        number = cast(float, value)
        if self.scale == "clock":
            return show_clock(number)
        return f"{show_number(number)} {self.unit}".rstrip()

    def contains(self, value: Value) -> bool:
        """Whether the value lies within `low` and `high`."""
        return self.low <= cast(float, value) <= self.high

    def sample(self, rng: np.random.Generator) -> float:
        """A settable value drawn evenly from the range."""
        return self.nearest(float(rng.uniform(self.low, self.high)))

    def nearest(self, value: Value) -> float:
        """The multiple of the tolerance within the range that is nearest to `value`."""
        inside = min(max(cast(float, value), self.low), self.high)
        steps = round((inside - self.low) / self.tolerance)
        settable = min(self.low + steps * self.tolerance, self.high)
        return whole_minutes(settable) if self.scale == "clock" else round(settable, 9)

    def levels(self) -> None:
        """A knob's values are not counted."""
        return

    def neighbours(self, value: Value) -> tuple[float, ...]:
        """The settable values one tolerance up and down."""
        number = cast(float, value)
        around = (self.nearest(number - self.tolerance), self.nearest(number + self.tolerance))
        return tuple(other for other in around if not math.isclose(other, number))

    def scaled(self, value: Value) -> float:
        """0 at `low`, 1 at `high`; beyond them outside the range."""
        return (cast(float, value) - self.low) / (self.high - self.low)
