"""One arrangement of settings that was tried, with everything measured of it."""

import math
import numbers
from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass
from typing import Any, Final

from optimiser.errors import InvalidTrial

STATES: Final = ("waiting", "measured", "failed", "declined", "void")
"""Waiting for its take; measured; the run gave no capture; not wanted by the practitioner; struck out."""

MADE: Final = ("measured", "failed")
"""States of trials that were made and count: for their figures, or for having failed."""

SET_ASIDE: Final = ("declined", "void")
"""States of trials that count for nothing, and may have settings that the sheet knows no more."""

STATE_WORDS: Final = {"declined": "put aside", "void": "struck out"}
"""States that people have another word for."""

ENTRY_WORDS: Final = {"articulation_kept": "articulation kept", "ear": "ear rating"}
"""What people call entries of a trial, where that is not their own name."""

_RANGES: Final[dict[str, tuple[float, float]]] = {
    "match": (0.0, 100.0),
    "match_se": (0.0, math.inf),
    "goal": (0.0, 100.0),
    "goal_se": (0.0, math.inf),
    "articulation": (0.0, 100.0),
    "articulation_kept": (0.0, 1.0),
    "overall_se": (0.0, math.inf),
    "ear": (0.0, 10.0),
}
_FIGURES: Final = ("overall", "match", "goal", "articulation", "reading", "ear")
_SPANS: Final = {name: _RANGES.get(name, (-math.inf, math.inf)) for name in (*_FIGURES, *_RANGES, "minutes")}


@dataclass(frozen=True)
class Trial:
    """One arrangement that was tried, or is to be.

    Attributes:
        settings: the settings that were really set; text is read by the study that takes the trial in.
        overall: the overall score when it is given outright; any finite number, more is better.
        overall_se: its within-take standard error.
        match: match score of capture against reference, 0 to 100.
        goal: match score of capture against the goal reference, 0 to 100.
        articulation: how well single notes stand apart in the capture, 0 to 100.
        reading: the device's number, before any fine-tuning on the device.
        ear: the practitioner's verdict, 0 to 10.
        number: the trial's number in its study; None lets the study give the next one.
        day: the sitting, as an ISO date.
        state: one of STATES.
        match_se: within-take standard error of match.
        goal_se: within-take standard error of goal.
        articulation_kept: the capture's articulation against the goal reference's, else the reference's, 0 to 1.
        minutes: how long the trial took, handling included.
        note: free text.

    Raises:
        InvalidTrial: a figure that cannot be, or a measured trial without any figure.
    """

    settings: Mapping[str, Any]
    _: KW_ONLY
    overall: float | None = None
    overall_se: float | None = None
    match: float | None = None
    goal: float | None = None
    articulation: float | None = None
    reading: float | None = None
    ear: float | None = None
    number: int | None = None
    day: str | None = None
    state: str = "measured"
    match_se: float | None = None
    goal_se: float | None = None
    articulation_kept: float | None = None
    minutes: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if self.state not in STATES:
            raise InvalidTrial(f"There is no trial state {self.state!r}.", f"Use one of {', '.join(STATES)}.")
        for name, (low, high) in _SPANS.items():
            figure = getattr(self, name)
            if figure is not None:
                object.__setattr__(self, name, _checked(name, figure, low, high))
        if self.number is not None and self.number < 1:
            raise InvalidTrial(f"A trial cannot have the number {self.number}.", "Numbers start at 1.")
        if self.state == "measured" and all(getattr(self, name) is None for name in _FIGURES):
            raise InvalidTrial(
                "A measured trial needs a figure.", f"Give one of {', '.join(_FIGURES)}, or say that the run failed."
            )

    @property
    def counts(self) -> bool:
        """Whether its figures are evidence."""
        return self.state == "measured"


def _checked(name: str, figure: object, low: float, high: float) -> float:
    number = float(figure) if isinstance(figure, numbers.Real) and not isinstance(figure, bool) else math.nan
    if not (math.isfinite(number) and low <= number <= high):
        expected = f"a number from {low:g} to {high:g}" if math.isfinite(high) else "a finite number"
        words = name.replace("_", " ")
        raise InvalidTrial(f"{words.capitalize()} cannot be {figure!r}.", f"Give {expected}.")
    return number
