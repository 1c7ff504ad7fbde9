"""What each day reads high or low by, as a table."""

from collections.abc import Sequence
from typing import Final

from optimiser.proposals import DayShift
from optimiser.units import INTERVAL_SDS

DAYS_NOTE: Final = (
    "Valves, air and stands drift, so that a score of one day is no score of another. What a day reads high or low by "
    "against all trials is told from arrangements that were tried on several days, and from ones nearby; scores are "
    "compared with that taken off. A check trial at the start of a day tells it best."
)

DAYS_HEAD: Final = ("day", "trials", "reads", "told from")


def day_rows(days: Sequence[DayShift]) -> list[tuple[str, ...]]:
    """A row for each day, under DAYS_HEAD; what follows ± is half of the 90 % interval, as in the rest of a report."""
    told = {True: "an arrangement tried on another day too", False: "arrangements nearby"}
    return [(day.day or "no date", str(day.trials), _read(day), told[day.linked]) for day in days]


def _read(day: DayShift) -> str:
    size = f"{abs(day.shift):.1f}"
    side = "as the others" if size == "0.0" else f"{size} {'high' if day.shift > 0 else 'low'}"
    return f"{side} ± {INTERVAL_SDS * day.shift_se:.1f}"
