"""When, by whom and why a step was taken."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from optimiser.errors import BadInput, BadUse
from optimiser.study import Event, StudySheet


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


def done_before(events: Iterable[Event], stamp: Stamp, *kinds: str) -> Event | None:
    """The event of one of these kinds that carries the stamp's key: the step was taken already.

    Raises:
        BadUse: the key belongs to a change of another kind.
    """
    known = next((event for event in events if stamp.key and event.key == stamp.key), None)
    if known is not None and known.kind not in kinds:
        raise BadUse(f"The key {stamp.key} belongs to another change.", "Give each change a key of its own.")
    return known


def not_kept(stamp: Stamp, trial: str = "", *, written: bool) -> str:
    """That a reason was not kept, since nothing changed that it could stand with; empty where there is no such reason.

    Args:
        stamp: with the reason.
        trial: study and number of the trial that it is about, to whose note it could be written instead.
        written: whether something was written.
    """
    if written or not stamp.reason:
        return ""
    instead = f" To keep it as a note: optimiser amend {trial} --note TEXT" if trial else ""
    return f"Nothing changed, so nothing was written and the reason was not kept.{instead}"


def one_step(events: Sequence[Event], number: int) -> list[Event]:
    """The events that one step writes, marked so that they are taken back together.

    Args:
        events: in order.
        number: of the first of them in its study; the others carry it.
    """
    return [
        replace(event, body={**event.body, "part_of": number}) if place else event for place, event in enumerate(events)
    ]


def as_day(text: str, today: str) -> str:
    """A day that somebody wrote on which something was made, as an ISO date.

    Raises:
        BadInput: no such date, or one that is still to come.
    """
    try:
        day = date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise BadInput(f"{text!r} is no date.", "Write it as 2026-03-02.") from None
    if day > today:
        raise BadInput(f"{day} is still to come.", f"Give the day on which it was made, {today} at the latest.")
    return day
