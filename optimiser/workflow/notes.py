"""Old notes from a table, one row a trial: all of them or none."""

import csv
import hashlib
import io
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from optimiser.errors import NOTHING, BadInput, BadUse, Fault, InvalidSettings
from optimiser.storage import Store
from optimiser.study import Event, StudyState, Trial, canonical_json, fold, trial_to_json
from optimiser.workflow.files import read_text
from optimiser.workflow.stamp import Stamp, as_day, one_step
from optimiser.workflow.takes import scores_of_failed
from optimiser.workflow.views import View

FIGURES: Final = ("overall", "match", "goal", "articulation", "reading", "ear")
OTHERS: Final = ("day", "note", "failed")
DELIMITERS: Final = ",;\t"
FAULTS_TOLD: Final = 20
"""So many faulty lines are told at once; the rest waits until these are mended."""

TAKEN_AGAIN: Final = "taken in again"
"""Reason for which a row counts again."""

YES: Final = ("yes", "y", "true", "1", "x", "failed")


@dataclass(frozen=True)
class _Row:
    """One line of the table: its number as an editor counts, and its cells by the names that the study knows."""

    line: int
    cells: Mapping[str, str]


def import_notes(store: Store, name: str, file: Path, columns: Mapping[str, str], stamp: Stamp) -> View:
    """Take in a table of old trials; a row that was taken in before is left alone, and counts again if it was undone.

    Args:
        store: an open store.
        name: of the study.
        file: comma, semicolon or tab separated text whose first line names the columns.
        columns: what the table calls a setting or figure, where it is not called by its own name.
        stamp: when and by whom.

    Raises:
        NotFound: no such study or file.
        BadUse: a column that the table lacks, or a name that the study lacks.
        BadInput: rows that cannot be; every one of them is told, and nothing is stored.
    """
    text = read_text(file)
    with store.writing():
        events = store.events(name)
        state = fold(events)
        rows, ignored = _rows(text, state, columns)
        known = {event.key: event for event in events}
        keyed = list(zip(rows, _keys(rows), strict=True))
        fresh = [(row, key) for row, key in keyed if key not in known]
        added = _events(state, fresh, file.name, stamp)
        before = [known[key].trial or 0 for _, key in keyed if key in known]
        back = [number for number in before if _was_undone(events, state, number)]
        added += [Event("restored", {"trial": n}, stamp.iso(), stamp.actor, TAKEN_AGAIN) for n in back]
        store.append(name, *one_step(added, len(events) + 1))
    numbers = [event.body["trial"]["trial"] for event in added[: len(fresh)]]
    return {"study": name, "trials": numbers, "known": len(before), "restored": back, "ignored": ignored}


def _was_undone(events: Sequence[Event], state: StudyState, number: int) -> bool:
    """Whether a row counts for nothing because its table was taken back, and not because it was struck out."""
    if state.trials[number].state != "void":
        return False
    last = next(event for event in reversed(events) if event.kind == "voided" and event.trial == number)
    undone = events[last.body["undoes"] - 1] if "undoes" in last.body else None
    return undone is not None and (undone.kind != "restored" or undone.reason == TAKEN_AGAIN)


def _rows(text: str, state: StudyState, columns: Mapping[str, str]) -> tuple[list[_Row], list[str]]:
    """The rows that hold anything, and the columns that mean nothing to the study."""
    head = text.partition("\n")[0]
    delimiter = max(DELIMITERS, key=head.count)
    reader = csv.reader(io.StringIO(text.lstrip("\ufeff")), delimiter=delimiter)
    titles = [title.strip() for title in next(reader, [])]
    names = _names(titles, state, columns)
    rows = []
    ignored = [title for place, title in enumerate(titles) if place not in names and title]
    for cells in reader:
        if any(map(str.strip, cells)):
            _check_columns(state, names.values(), ignored)
        told = {names[place]: cell.strip() for place, cell in enumerate(cells) if place in names and cell.strip()}
        if delimiter == ";":
            told = {own: cell.replace(",", ".") if own in FIGURES else cell for own, cell in told.items()}
        if told:
            rows.append(_Row(reader.line_num, told))
    return rows, ignored


def _check_columns(state: StudyState, names: Collection[str], ignored: Sequence[str]) -> None:
    """See that there is a column for every setting that every trial has.

    Raises:
        BadUse: a setting without one.
    """
    told = {name.partition(".")[0] for name in names}
    lacking = [one.name for one in state.sheet.space.settings if one.only_when is None and one.name not in told]
    if lacking:
        first, which = lacking[0], f"Its columns {', '.join(ignored)} mean nothing yet." if ignored else ""
        raise BadUse(
            f"The table has no column for {', '.join(lacking)}.",
            f"Name it so in the first line, or say which one it is with --column {first}=THEIRS. {which}".strip(),
        )


def _names(titles: Sequence[str], state: StudyState, columns: Mapping[str, str]) -> dict[int, str]:
    """What the column at each place means."""
    settings = state.sheet.space.by_name
    unknown = [own for own in columns if own.partition(".")[0] not in settings and own not in (*FIGURES, *OTHERS)]
    if unknown:
        known = ", ".join([*settings, *FIGURES, *OTHERS])
        raise BadUse(f"{', '.join(unknown)} is nothing that a trial of this study has.", f"It has {known}.")
    lacking = [theirs for theirs in columns.values() if theirs not in titles]
    if lacking:
        raise BadUse(f"The table has no column {', '.join(lacking)}.", f"Its columns are {', '.join(titles)}.")
    told = {theirs: own for own, theirs in columns.items()}
    own_names = {own.lower(): own for own in (*settings, *FIGURES, *OTHERS)}
    names = {}
    for place, title in enumerate(titles):
        first, dot, axis = title.lower().partition(".")
        own = told.get(title) or (own_names[first] + dot + axis if first in own_names else None)
        if own and (own not in columns or columns[own] == title):
            names[place] = own
    return names


def _keys(rows: Sequence[_Row]) -> Iterator[str]:
    """For each row a key that is the same whenever the row comes again; equal rows are told apart by their turn."""
    seen: Counter[str] = Counter()
    for row in rows:
        digest = hashlib.sha256(canonical_json(dict(row.cells)).encode()).hexdigest()[:32]
        seen[digest] += 1
        yield f"notes {digest} {seen[digest]}"


def _events(state: StudyState, rows: Sequence[tuple[_Row, str]], file: str, stamp: Stamp) -> list[Event]:
    events, faults = [], []
    for number, (row, key) in enumerate(rows, start=state.next_number):
        try:
            trial = _trial(state, row.cells, number, stamp.day(state.sheet))
            body = {"trial": trial_to_json(trial), "asked": None, "details": {"notes": file, "line": row.line}}
            event = Event(trial.state, body, stamp.iso(), stamp.actor, stamp.reason, key)
            _ = state.after(event).study
            events.append(event)
        except InvalidSettings as error:
            faults += [f"line {row.line}: {_in_cells(fault)}" for fault in error.faults]
        except BadInput as error:
            faults.append(f"line {row.line}: {error}")
    if faults:
        more = len(faults) - FAULTS_TOLD
        rest = [f"and {more} more"] if more > 0 else []
        raise BadInput("\n".join([*faults[:FAULTS_TOLD], *rest]), "Nothing was taken in. Mend the table and try again.")
    return events


def _in_cells(fault: Fault) -> Fault:
    """A fault of an arrangement as it is mended in a table."""
    return replace(fault, mend="fill in its cell") if fault.found == NOTHING else fault


def _trial(state: StudyState, cells: Mapping[str, str], number: int, today: str) -> Trial:
    others = {name: cell for name, cell in cells.items() if name not in (*FIGURES, *OTHERS)}
    figures: dict[str, Any] = {name: _figure(name, cells[name]) for name in FIGURES if name in cells}
    failed = cells.get("failed", "").lower() in YES
    if failed and (scores := scores_of_failed(figures)):
        raise BadInput(f"A run that failed has no {scores}.", "Empty that cell, or the one of failed.")
    return Trial(
        state.sheet.space.parse(others),
        number=number,
        day=as_day(cells["day"]) if "day" in cells else today,
        state="failed" if failed else "measured",
        note=cells.get("note", ""),
        **figures,
    )


def _figure(name: str, cell: str) -> float:
    try:
        return float(cell)
    except ValueError:
        raise BadInput(f"{name} {cell!r} is no number.", "Write it as 6.5.") from None
