"""What each day reads high or low by, as a table."""

from collections.abc import Sequence
from typing import Final

from optimiser.proposals import DayShift, shift_in_words

DAYS_NOTE: Final = (
    "Valves, air and stands drift, so that a score of one day is no score of another. What a day reads high or low by "
    "against all trials is told from arrangements that were tried on several days, and from ones nearby; scores are "
    "compared with that taken off. A check trial at the start of a day tells it best."
)

DAYS_HEAD: Final = ("day", "trials", "reads", "told from")


def day_rows(days: Sequence[DayShift]) -> list[tuple[str, ...]]:
    """A row for each day, under DAYS_HEAD; what follows ± is half of the 90 % interval, as in the rest of a report."""
    told = {True: "an arrangement tried on another day too", False: "arrangements nearby"}
    return [
        (day.day or "no date", str(day.trials), shift_in_words(day).replace(" +-", " ± "), told[day.linked])
        for day in days
    ]
