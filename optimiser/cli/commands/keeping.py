"""backup, recover, doctor, move: that what was stored is never lost."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Final

import typer

from optimiser.cli.commands.words import stamp
from optimiser.cli.outcome import AsJson, Outcome, StoreUrl, View, tell
from optimiser.cli.printing import columns, count, near, paragraph, size, whole


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The backup's name, best on another disk.")],
    replace: Annotated[
        bool, typer.Option("--replace", help="Replace an older backup of that name, when the new one holds it all.")
    ] = False,
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Write the whole store, recordings too, as a file with a folder beside it, and verify it."""
    from optimiser.storage import open_store
    from optimiser.workflow import backup, fault_of_copy

    with open_store(store, create=False) as opened:
        view = backup(opened, file, replace=replace, tell=tell)
    return Outcome(view, _say_backup, as_json, fault_of_copy(view))


def _say_backup(view: View) -> Iterator[str]:
    yield from whole("Backup written and verified:", near(view["file"]))
    yield from whole("Its recordings:             ", near(view["recordings"]["folder"]))
    yield from columns(
        [("ledger", f"{_studies(view)}, {size(view['bytes'])}, none missing"), ("recordings", _recordings(view))]
    )
    yield from paragraph("Keep the file and that folder together, best on another disk.")
    yield from whole("To go on from it:", f"optimiser recover {near(view['file'])}")


def recover(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A backup, or a damaged store.")],
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Put a backup, or what can be read of a damaged store, into the store's place."""
    from optimiser.workflow import fault_of_copy, recover

    view = recover(file, store, stamp(), tell)
    return Outcome(view, _say_recovered, as_json, fault_of_copy(view))


def _say_recovered(view: View) -> Iterator[str]:
    how = "Recovered, whole and verified" if view["whole"] else "Damaged; recovered what can be read"
    yield from whole(f"{how}:", near(view["store"]))
    yield from columns([("ledger", _studies(view)), ("recordings", _recordings(view))])
    for lost in view["lost"]:
        if lost["events"]:
            yield from paragraph(f"Lost of {lost['study']}: {_numbers(lost['events'])}; their places stay empty.")
        if lost["unfit"]:
            what = f"Read of {lost['study']}, and fitting nothing that is left: {_numbers(lost['unfit'])}"
            yield from paragraph(f"{what}; kept, and counting for nothing.")
    if view["left_over"]:
        yield "What was read without its study's sheet is in a file:"
        yield f"  {near(view['left_over'])}"
    if view["moved"]:
        held = sum(study["events"] for study in view["moved"]["studies"])
        events = f" ({count(held, 'event')})" if held else ""
        yield f"What lay there before{events} is now:"
        yield f"  {near(view['moved']['file'])}"
    yield "Next: optimiser studies"


def doctor(
    fix: Annotated[bool, typer.Option("--fix", help="Mend what can be mended without losing anything.")] = False,
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Go through database, events and recordings, and say what is wrong and how to mend it."""
    from optimiser.storage import open_store
    from optimiser.workflow import doctor, fault_of_doctor

    with open_store(store, create=False, wait_s=_DOCTOR_WAITS_S) as opened:
        view = doctor(opened, fix=fix)
    return Outcome(view, _say_doctor, as_json, fault_of_doctor(view))


def _say_doctor(view: View) -> Iterator[str]:
    yield from whole("Store:        ", near(view["store"]))
    if view["recordings"] is not None:
        kept = view["recordings"]
        yield from whole("Recordings in:", near(kept["folder"]))
        yield from columns(
            [
                ("database", f"schema {view['schema']}, {view['engine']}"),
                ("ledger", f"{_studies_of(view['studies'])}, {count(view['events'], 'event')}"),
                ("recordings", f"{kept['count']}, {size(kept['bytes'])}, every byte read"),
            ]
        )
    for finding in view["findings"]:
        yield from paragraph(f"{finding['weight'].upper()}: {finding['message']}")
        if finding["hint"]:
            yield from paragraph(finding["hint"], 2)
    if not view["findings"]:
        yield "Nothing is wrong."


def move(
    to: Annotated[str, typer.Option("--to", metavar="URL", help="A file, or postgresql+psycopg://USER@HOST/DATABASE.")],
    audio: Annotated[
        Path | None, typer.Option(help="Folder for the recordings there; else OPTIMISER_AUDIO, or the usual one.")
    ] = None,
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Copy the whole store to another place and verify it; the old one stays as it is."""
    from optimiser.storage import open_store
    from optimiser.workflow import fault_of_copy, move

    with open_store(store, create=False) as opened:
        view = move(opened, to, audio, tell)
    return Outcome(view, _say_moved, as_json, fault_of_copy(view))


def _say_moved(view: View) -> Iterator[str]:
    yield from whole("Copied and verified:", near(view["to"]))
    yield from whole("Its recordings:     ", near(view["recordings"]["folder"]))
    events = sum(study["events"] for study in view["added"])
    known = f"; {len(view['known'])} there already, the same" if view["known"] else ""
    yield from columns(
        [
            ("ledger", f"{_studies_of(len(view['added']))}, {count(events, 'event')}{known}"),
            ("recordings", _recordings(view)),
        ]
    )
    yield from paragraph(
        "The old store stays as it is. From now on name the new one, so that nobody writes to the old:"
    )
    yield f"  export OPTIMISER_STORE={view['to']}"
    yield f"  export OPTIMISER_AUDIO={view['recordings']['folder']}"


_DOCTOR_WAITS_S: Final = 2.0
"""Seconds until the doctor says that somebody else is writing (a choice, no source)."""


def _studies(view: View) -> str:
    events = sum(study["events"] for study in view["studies"])
    return f"{_studies_of(len(view['studies']))}, {count(events, 'event')}"


def _studies_of(number: int) -> str:
    return f"{number} {'study' if number == 1 else 'studies'}"


def _recordings(view: View) -> str:
    kept = view["recordings"]
    said = f"{kept['copied']} copied, {size(kept['bytes'])}; {kept['known']} there already, whole"
    return f"{said}; {len(kept['lost'])} MISSING OR DAMAGED" if kept["lost"] else said


def _numbers(events: list[int]) -> str:
    few = ", ".join(str(number) for number in events[:10])
    return f"event{'s' * (len(events) > 1)} {few}{f' and {len(events) - 10} more' if len(events) > 10 else ''}"


COMMANDS: Final = (backup, recover, doctor, move)
