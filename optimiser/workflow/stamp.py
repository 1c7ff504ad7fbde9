"""When, by whom and why a step was taken."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from optimiser.errors import BadInput
from optimiser.study import StudySheet


@dataclass(frozen=True)
class Stamp:
    """What every change carries.

    Attributes:
        at: when, with its offset from UTC.
        actor: the person or program.
        reason: why; may be empty.
        key: idempotency key; a step with a known key is not taken again.
    """

    at: datetime
    actor: str = ""
    reason: str = ""
    key: str = ""

    def day(self, sheet: StudySheet) -> str:
        """The date in the study's own time zone."""
        return self.at.astimezone(ZoneInfo(sheet.timezone)).date().isoformat()

    def iso(self) -> str:
        """The time as ISO 8601, to the second."""
        return self.at.isoformat(timespec="seconds")


def as_day(text: str) -> str:
    """A day that somebody wrote, as an ISO date.

    Raises:
        BadInput: no such date.
    """
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise BadInput(f"{text!r} is no date.", "Write it as 2026-03-02.") from None
