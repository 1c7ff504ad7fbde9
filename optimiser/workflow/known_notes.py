"""Lines of a table of notes, and those of them that came in before, however the table is read this time."""

import hashlib
import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any, Final
from zoneinfo import ZoneInfo

from optimiser.study import Event, StudyState, Trial, canonical_json, trial_from_json

FIGURES: Final = ("overall", "match", "goal", "articulation", "reading", "ear")

TAKEN_AGAIN: Final = "taken in again"
"""Reason for which a line counts again."""

_NUMBER: Final = re.compile(r"[-+]?\d+(?:[.,]\d+)?")


@dataclass(frozen=True)
class Line:
    """One line of the table.

    Attributes:
        number: as an editor counts.
        cells: by the names that the study knows.
        source: what the whole line says, columns that mean nothing too, whatever their order and format.
        trial: what it says, None where it cannot be.
        faults: why it cannot be.
    """

    number: int
    cells: Mapping[str, str]
    source: str
    trial: Trial | None = None
    faults: tuple[str, ...] = ()

    @cached_property
    def digest(self) -> str:
        """The cells in short."""
        return _digest(dict(self.cells))

    @cached_property
    def says(self) -> Mapping[str, Any]:
        """What it tells of its trial, by name; empty where it cannot be one."""
        return {} if self.trial is None else _says(self.trial)

    @cached_property
    def told(self) -> frozenset[str]:
        """Names of what it tells; of a place, whose axes have columns of their own, the setting's."""
        return frozenset(name.partition(".")[0] for name in self.cells)


@dataclass(frozen=True)
class Earlier:
    """A line that came in before.

    Attributes:
        event: number of its event.
        trial: what it said then.
        told: names of what it told.
        digest: its cells in short, as they were read then.
        source: what the whole line said, None in older stores.
        undone: whether its table was taken back, so that it counts for nothing.
    """

    event: int
    trial: Trial
    told: frozenset[str]
    digest: str
    source: str | None
    undone: bool

    @cached_property
    def says(self) -> Mapping[str, Any]:
        """What it told of its trial, by name."""
        return _says(self.trial)


@dataclass(frozen=True)
class Matches:
    """What became of the lines of a table.

    Attributes:
        fresh: lines that never came in, or whose table was taken back and that say something else now.
        known: lines that are in.
        again: what came in before and was taken back, and says the same now.
        otherwise: lines that are in and say something else now, with what they said.
    """

    fresh: tuple[Line, ...]
    known: tuple[Earlier, ...]
    again: tuple[Earlier, ...]
    otherwise: tuple[tuple[Line, Earlier], ...]


def source_of(titles: Sequence[str], cells: Sequence[str]) -> str:
    """A line in short: the same in another order of columns, with other blanks, and with numbers written otherwise."""
    told = zip(titles, cells, strict=False)
    return _digest(sorted([title.lower(), _plain(cell)] for title, cell in told if title and cell.strip()))


def earlier_lines(events: Sequence[Event], state: StudyState) -> list[Earlier]:
    """Every line that came in before, in order."""
    return list(_earlier(events, state))


def _earlier(events: Sequence[Event], state: StudyState) -> Iterator[Earlier]:
    zone = ZoneInfo(state.sheet.timezone)
    for event in events:
        details = event.body.get("details") or {}
        if event.kind not in ("measured", "failed") or "notes" not in details:
            continue
        trial = trial_from_json(event.body["trial"])
        told = details.get("told")
        if told is None:
            on = datetime.fromisoformat(event.at).astimezone(zone).date().isoformat()
            told = [name for name, value in _says(trial).items() if value is not None and (name, value) != ("day", on)]
        digest = event.key.split()[1] if event.key.startswith("notes ") else ""
        undone = _was_undone(events, state, event.trial or 0)
        yield Earlier(event.number, trial, frozenset(told), digest, details.get("source"), undone)


def _was_undone(events: Sequence[Event], state: StudyState, number: int) -> bool:
    """Whether a line counts for nothing because its table was taken back, and not because it was struck out."""
    if number not in state.trials or state.trials[number].state != "void":
        return False
    last = next(event for event in reversed(events) if event.kind == "voided" and event.trial == number)
    undone = events[last.body["undoes"] - 1] if "undoes" in last.body else None
    return undone is not None and (undone.kind != "restored" or undone.reason == TAKEN_AGAIN)


def matched(lines: Sequence[Line], earlier: Sequence[Earlier]) -> Matches:
    """Which lines came in before. Each earlier line stands for one line, so that a repeat within a table is another."""
    left, known, again = list(lines), list[Earlier](), list[Earlier]()
    otherwise: list[tuple[Line, Earlier]] = []
    stand = [one for one in earlier if not one.undone]
    gone = [one for one in earlier if one.undone]
    for is_one in (_is_source, _is_alike):
        known += [one for _, one in _paired(left, stand, is_one, same=True)]
    for is_one in (_is_source, _is_alike):
        otherwise += _paired(left, stand, is_one)
    again += [one for _, one in _paired(left, gone, _is_whole, same=True)]
    return Matches(tuple(left), tuple(known), tuple(again), tuple(otherwise))


def _paired(
    left: list[Line], earlier: list[Earlier], is_one: Callable[[Line, Earlier], bool], *, same: bool = False
) -> list[tuple[Line, Earlier]]:
    """Pairs of a line and what it was before, perhaps only with the same said; both are taken out of their lists."""
    pairs = []
    for line in tuple(left):
        fitting = (one for one in earlier if is_one(line, one) and not (same and differs(line, one)))
        if (one := next(fitting, None)) is not None:
            pairs.append((line, one))
            left.remove(line)
            earlier.remove(one)
    return pairs


def differs(line: Line, one: Earlier) -> list[str]:
    """Names of what a line tells now and did not, or told otherwise, when it came in."""
    if line.digest == one.digest:
        return []
    now, then = line.says, one.says
    return [name for name in now if name in line.told and now[name] != then.get(name)]


def _is_source(line: Line, one: Earlier) -> bool:
    return line.source == one.source or line.digest == one.digest


def _is_whole(line: Line, one: Earlier) -> bool:
    """Whether an earlier line said all that this one says and nothing more, but for the day where neither tells it."""
    day = set() if "day" in line.told | one.told else {"day"}
    names = line.says.keys() | one.says.keys()
    return bool(line.says) and all(line.says.get(name) == one.says.get(name) for name in names - day)


def _is_alike(line: Line, one: Earlier) -> bool:
    """Whether two lines tell the same trial, as far as both tell of it; figures have to be the same.

    In older stores it is not known which columns meant nothing then: there a figure may be missing on one side.
    """
    if line.trial is None or line.trial.state != one.trial.state:
        return False
    now, then = line.says, one.says
    both = line.told & one.told
    settings = [name for name in line.trial.settings if name in one.trial.settings]
    figures = [name for name in FIGURES if one.source is not None or name in both]
    comparable = bool(figures) or line.trial.state == "failed"
    others = [name for name in ("day", "note") if name in both]
    return bool(settings) and comparable and all(now[name] == then[name] for name in (*settings, *figures, *others))


def _says(trial: Trial) -> dict[str, Any]:
    """What a line may tell of a trial, by name; None for what it does not tell."""
    others = {"day": trial.day, "note": trial.note or None, "failed": trial.state == "failed"}
    return {**trial.settings, **{name: getattr(trial, name) for name in FIGURES}, **others}


def _plain(cell: str) -> str:
    text = " ".join(cell.split())
    return repr(float(text.replace(",", "."))) if _NUMBER.fullmatch(text) else text


def _digest(told: object) -> str:
    return hashlib.sha256(canonical_json(told).encode()).hexdigest()[:32]


def fresh_key(line: Line, taken: Collection[str]) -> str:
    """A key for a line that comes in; equal lines are told apart by their turn."""
    turns = (f"notes {line.digest} {turn}" for turn in range(1, len(taken) + 2))
    return next(key for key in turns if key not in taken)
