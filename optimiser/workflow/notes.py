"""Old notes from a table, one line a trial: all of them or none."""

import csv
import io
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from optimiser.errors import NOTHING, BadInput, BadUse, Fault, InvalidSettings
from optimiser.storage import Store
from optimiser.study import ENTRY_WORDS, Event, StudyState, Trial, fold, trial_to_json, trials_in_words
from optimiser.workflow.files import read_text
from optimiser.workflow.known_notes import (
    FIGURES,
    TAKEN_AGAIN,
    Earlier,
    Line,
    differs,
    earlier_lines,
    fresh_key,
    matched,
    source_of,
)
from optimiser.workflow.stamp import Stamp, as_day, one_step
from optimiser.workflow.takes import check_overall, scores_of_failed
from optimiser.workflow.undoing import newest_step
from optimiser.workflow.views import View

OTHERS: Final = ("day", "note", "failed")
DELIMITERS: Final = ",;\t"
FAULTS_TOLD: Final = 20
"""So many faulty lines are told at once; the rest waits until these are mended."""

YES: Final = ("yes", "y", "true", "1", "x", "failed")


def import_notes(store: Store, name: str, file: Path, columns: Mapping[str, str], stamp: Stamp) -> View:
    """Take in a table of old trials. A line that came in before is left alone, and counts again if it was taken back.

    Lines are known by what they say, in whichever order and format and whatever their columns are called now.

    Args:
        store: an open store.
        name: of the study.
        file: comma, semicolon or tab separated text whose first line names the columns.
        columns: what the table calls a setting or figure, where it is not called by its own name.
        stamp: when and by whom.

    Raises:
        NotFound: no such study or file.
        BadUse: a column that the table lacks, a name that the study lacks, or lines that are in and say something
            else now.
        BadInput: lines that cannot be; every one of them is told. Nothing is stored in either case.
    """
    text = read_text(file)
    with store.writing():
        events = store.events(name)
        state = fold(events)
        lines, ignored = _lines(text, state, columns)
        read = [_read(line, state, stamp.day(state.sheet)) for line in lines]
        matches = matched(read, earlier_lines(events, state))
        if matches.otherwise:
            raise _in_already(name, events, matches.otherwise)
        keys = {event.key for event in events if event.key}
        added = _events(state, matches.fresh, file.name, stamp, keys)
        numbers = [event.body["trial"]["trial"] for event in added]
        back = [one.trial.number for one in matches.again]
        added += [Event("restored", {"trial": n}, stamp.iso(), stamp.actor, TAKEN_AGAIN) for n in back]
        store.append(name, *one_step(added, len(events) + 1))
    known = len(matches.known) + len(matches.again)
    return {"study": name, "trials": numbers, "known": known, "restored": back, "ignored": ignored}


def _in_already(name: str, events: Sequence[Event], otherwise: Sequence[tuple[Line, Earlier]]) -> BadUse:
    """That lines are in and say something else now, and how to put that right."""
    names = dict.fromkeys(entry for line, one in otherwise for entry in differs(line, one))
    trials = trials_in_words({one.trial.number or 0 for _, one in otherwise})
    back = {event.number for event in newest_step(events)}
    are = "line is" if len(otherwise) == 1 else "lines are"
    if all(one.event in back for _, one in otherwise):
        mend = f"Take them back with optimiser undo {name}, then import the table again."
    else:
        mend = (
            f"optimiser amend {name} TRIAL puts one right, optimiser undo {name} goes back step by step; a line that "
            f"is another run comes in with optimiser log {name}."
        )
    told = " and ".join(ENTRY_WORDS.get(entry, entry) for entry in names)
    return BadUse(
        f"{len(otherwise)} {are} in already, as {trials}, with another {told} or none.", f"Nothing was taken in. {mend}"
    )


def _lines(text: str, state: StudyState, columns: Mapping[str, str]) -> tuple[list[Line], list[str]]:
    """The lines that hold anything, and the columns that mean nothing to the study."""
    plain = text.lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    head = plain.partition("\n")[0]
    delimiter = max(DELIMITERS, key=head.count)
    reader = csv.reader(io.StringIO(plain), delimiter=delimiter)
    titles = [title.strip() for title in next(reader, [])]
    names = _names(titles, state, columns)
    lines = []
    ignored = [title for place, title in enumerate(titles) if place not in names and title]
    for cells in reader:
        if any(map(str.strip, cells)):
            _check_columns(state, names.values(), ignored)
        told = {names[place]: cell.strip() for place, cell in enumerate(cells) if place in names and cell.strip()}
        if delimiter == ";":
            told = {own: cell.replace(",", ".") if own in FIGURES else cell for own, cell in told.items()}
        if told:
            lines.append(Line(reader.line_num, told, source_of(titles, cells)))
    return lines, ignored


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


def _read(line: Line, state: StudyState, today: str) -> Line:
    """A line with the trial that it tells, or with why it cannot be one."""
    try:
        return replace(line, trial=_trial(state, line.cells, today))
    except InvalidSettings as error:
        return replace(line, faults=tuple(str(_in_cells(fault)) for fault in error.faults))
    except (BadInput, BadUse) as error:
        return replace(line, faults=(str(error),))


def _events(state: StudyState, lines: Sequence[Line], file: str, stamp: Stamp, keys: Collection[str]) -> list[Event]:
    events, faults, taken = [], list[str](), set(keys)
    for number, line in enumerate(lines, start=state.next_number):
        if line.trial is None:
            faults += [f"line {line.number}: {fault}" for fault in line.faults]
            continue
        told = {"notes": file, "line": line.number, "told": sorted(line.told), "source": line.source}
        body = {"trial": trial_to_json(replace(line.trial, number=number)), "asked": None, "details": told}
        key = fresh_key(line, taken)
        event = Event(line.trial.state, body, stamp.iso(), stamp.actor, stamp.reason, key)
        taken.add(key)
        try:
            _ = state.after(event).study
        except BadInput as error:
            faults.append(f"line {line.number}: {error}")
        events.append(event)
    if faults:
        more = len(faults) - FAULTS_TOLD
        rest = [f"and {more} more"] if more > 0 else []
        raise BadInput("\n".join([*faults[:FAULTS_TOLD], *rest]), "Nothing was taken in. Mend the table and try again.")
    return events


def _in_cells(fault: Fault) -> Fault:
    """A fault of an arrangement as it is mended in a table."""
    return replace(fault, mend="fill in its cell") if fault.found == NOTHING else fault


def _trial(state: StudyState, cells: Mapping[str, str], today: str) -> Trial:
    others = {name: cell for name, cell in cells.items() if name not in (*FIGURES, *OTHERS)}
    figures: dict[str, Any] = {name: _figure(name, cells[name]) for name in FIGURES if name in cells}
    check_overall(figures.get("overall"))
    failed = cells.get("failed", "").lower() in YES
    if failed and (scores := scores_of_failed(figures)):
        raise BadInput(f"A run that failed has no {scores}.", "Empty that cell, or the one of failed.")
    return Trial(
        state.sheet.space.parse(others),
        day=as_day(cells["day"], today) if "day" in cells else today,
        state="failed" if failed else "measured",
        note=cells.get("note", ""),
        **figures,
    )


def _figure(name: str, cell: str) -> float:
    try:
        return float(cell)
    except ValueError:
        raise BadInput(f"{name} {cell!r} is no number.", "Write it as 6.5.") from None
