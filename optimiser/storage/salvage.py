"""What can still be read of a damaged store: studies, events, recordings, told by the shape of their rows."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from optimiser.errors import StorageError
from optimiser.storage.rows import event_of
from optimiser.storage.shelf import SHA256, AudioFile
from optimiser.study import Event

if TYPE_CHECKING:
    from optimiser.storage.pages import Row, Value

_EVENT: Final = ("id", "study_id", "number", "kind", "at", "actor", "reason", "key", "body")
_EVENT_TYPES: Final = (type(None), int, int, str, str, str, str, (str, type(None)), str)
_STUDY_TYPES: Final = (type(None), str, str)
_AUDIO_TYPES: Final = (str, int, str, str)


@dataclass(frozen=True)
class SalvagedStudy:
    """A study as far as it can be read.

    Attributes:
        name: empty when that could not be read.
        created_at: when it was started; may be empty.
        events: what could be read, by number.
    """

    name: str = ""
    created_at: str = ""
    events: Mapping[int, Event] = field(default_factory=dict)


@dataclass(frozen=True)
class Salvage:
    """Everything that could be read, the oldest study first."""

    studies: tuple[SalvagedStudy, ...] = ()
    recordings: tuple[AudioFile, ...] = ()


def salvaged(file: bytes, log: bytes = b"") -> Salvage:
    """Read the pages of a damaged database and of its log, whatever SQLite thinks of them."""
    from optimiser.storage.pages import rows_in

    return _sorted_out(rows_in(file, log))


def _sorted_out(rows: "Iterable[Row]") -> Salvage:
    names: dict[int, tuple[str, str]] = {}
    events: dict[int, dict[int, Event]] = {}
    recordings: dict[str, AudioFile] = {}
    for number, values in rows:
        if _fits(values, _EVENT_TYPES):
            _take_event(values, events)
        elif _fits(values, _STUDY_TYPES):
            names.setdefault(number, (str(values[1]), str(values[2])))
        elif _fits(values, _AUDIO_TYPES) and SHA256.fullmatch(str(values[0])):
            sha256, size, _, name = values
            recordings.setdefault(str(sha256), AudioFile(str(sha256), int(str(size)), str(name)))
    studies = [SalvagedStudy(*names.get(row, ("", "")), events.get(row, {})) for row in sorted({*names, *events})]
    return Salvage(tuple(studies), tuple(recordings[sha256] for sha256 in sorted(recordings)))


def _take_event(values: "tuple[Value, ...]", events: dict[int, dict[int, Event]]) -> None:
    row = dict(zip(_EVENT, values, strict=True))
    try:
        event = event_of(row, "")
    except StorageError:
        return
    if event.number >= 1 and isinstance(event.body, dict):
        events.setdefault(int(str(row["study_id"])), {}).setdefault(event.number, event)


def _fits(values: "tuple[Value, ...]", types: tuple[object, ...]) -> bool:
    return len(values) == len(types) and all(isinstance(v, t) for v, t in zip(values, types, strict=True))  # type: ignore[arg-type]
