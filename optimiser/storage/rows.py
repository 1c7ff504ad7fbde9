"""Events as rows of text, and back."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from optimiser.errors import BadInput, StorageError
from optimiser.study import Event

_TEXTS: Final = ("kind", "at", "actor", "reason", "key")


@dataclass(frozen=True)
class Change:
    """That something happened.

    Attributes:
        place: in the order of all events of the store; it only ever grows, perhaps with gaps.
        study: in which study.
        event: number of the event there.
        kind: what happened.
    """

    place: int
    study: str
    event: int
    kind: str


def row_of(event: Event) -> dict[str, str | None]:
    """The entries of an event's row, but for its study and number.

    The body becomes JSON in plain ASCII, which every database keeps as it is, with its entries in their own order (the
    order of settings in a sheet means something). A float is written with the fewest digits that give it back to the
    bit.

    Raises:
        BadInput: a number that is not finite, or a text that no database keeps.
    """
    texts = {name: storable(getattr(event, name), name) for name in _TEXTS}
    try:
        body = json.dumps(event.body, separators=(",", ":"), allow_nan=False)
    except ValueError as error:
        raise BadInput(
            f"What was {event.kind} holds a number that is not finite.", "Mend it or leave it out."
        ) from error
    return {**texts, "key": event.key or None, "body": body}


def event_of(row: Mapping[str, Any], shown: str) -> Event:
    """The event that a row stands for.

    Raises:
        StorageError: the row was changed by something else.
    """
    try:
        body = json.loads(row["body"])
    except ValueError as error:
        raise StorageError(f"Event {row['number']} in {shown} is damaged.", "Put back a backup.") from error
    return Event(**{name: row[name] or "" for name in _TEXTS}, body=body, number=row["number"])


def is_storable(text: str) -> bool:
    """Whether every database can keep a text: PostgreSQL knows no NUL, UTF-8 no half of a surrogate pair."""
    return not any(letter == "\0" or "\ud800" <= letter <= "\udfff" for letter in text)


def storable(text: str, what: str) -> str:
    """A text that every database can keep.

    Raises:
        BadInput: it holds the character NUL, or half a character.
    """
    if not is_storable(text):
        raise BadInput(f"The {what} {text!r} holds a character that cannot be kept.", "Leave that character out.")
    return text
