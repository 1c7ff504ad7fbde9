"""start, goal, reel: before the first trial."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Final

import typer

from optimiser.cli.commands.advising import say_ignored, say_weights
from optimiser.cli.commands.words import StudyName, assignments, stamp
from optimiser.cli.outcome import AsJson, Outcome, StoreUrl, View, tell
from optimiser.cli.printing import count, paragraph, whole


def start(
    sheet: Annotated[Path, typer.Argument(metavar="SHEET.toml", help="The study sheet.")],
    adviser: Annotated[
        list[str] | None, typer.Option(metavar="STUDY", help="An earlier study to start from; once for each.")
    ] = None,
    reason: Annotated[str, typer.Option(help="Why the sheet was changed.")] = "",
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Start a study from its sheet, or give it a new version of the sheet."""
    from optimiser.storage import open_store
    from optimiser.workflow import read_text, start

    text = read_text(sheet)
    with open_store(store) as opened:
        return Outcome(start(opened, text, stamp(reason), adviser or ()), _say_start, as_json)


def _say_start(view: View) -> Iterator[str]:
    name = view["study"]
    did = "started" if view["new"] else "has a new version of its sheet" if view["changed"] else "is unchanged"
    yield from paragraph(f"Study {name} {did}: {', '.join(view['settings'])}.")
    if view["remark"]:
        yield from paragraph(view["remark"])
    yield from _say_carried(view)
    yield from say_weights(view)
    for adviser in view["advisers"]:
        yield from say_ignored(adviser)
    if not view["goal"]:
        yield from paragraph(
            f"Record the tone you want once, then: optimiser goal {name} FILE.wav (a recording of the proof reel, "
            f"see optimiser reel {name} --kind proof --out proof.wav)."
        )
    yield from _say_goal_again(name, view["goal_again"])
    yield from whole("Next:", f"optimiser next {name}")


def _say_goal_again(name: str, told: View | None) -> Iterator[str]:
    """That the goal reference has to be recorded again, and how."""
    if told is not None:
        yield from paragraph(told["why"], 10, "Goal:")
        if told["reel_first"]:
            yield f"  optimiser reel {name} --out proof.wav"
        yield f"  optimiser goal {name} FILE.wav"


def _say_carried(view: View) -> Iterator[str]:
    """What became of the trials made under an earlier version."""
    from optimiser.study import trials_in_words

    by_value: dict[tuple[str, str], list[int]] = {}
    for entry in view["completed"]:
        by_value.setdefault((entry["setting"], entry["shown"]), []).append(entry["trial"])
    for (name, shown), numbers in by_value.items():
        yield from paragraph(f"{trials_in_words(numbers)} taken to have {name} at {shown}", 10, "Filled:")
    for entry in view["withdrawn"]:
        yield from paragraph(f"trial {entry['trial']} waits no more; {entry['reason']}", 10, "Gone:")
    for name in view["dropped"]:
        yield from paragraph(f"{name} is no setting any more; no trial differed in it", 10, "Dropped:")
    beyond: dict[str, list[int]] = {}
    for entry in view["outside"]:
        for where in entry["shown"]:
            beyond.setdefault(where, []).append(entry["trial"])
    for where, numbers in beyond.items():
        yield from paragraph(f"{trials_in_words(numbers)}, {where}; kept, and counted as before", 10, "Outside:")


def goal(
    study: StudyName,
    file: Annotated[Path, typer.Argument(metavar="FILE.wav", help="The wanted tone, playing the proof reel.")],
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Keep the tone that is wanted in the end; takes made before are scored against it."""
    from optimiser.storage import open_store
    from optimiser.workflow import record_goal

    with open_store(store, create=False) as opened:
        return Outcome(record_goal(opened, study, file, stamp(), tell), _say_goal, as_json)


def _say_goal(view: View) -> Iterator[str]:
    from optimiser.study import trials_in_words

    kept = view["goal"]
    yield f"Goal reference of {view['study']} kept: {kept['name']}, {kept['seconds']:.1f} s."
    if view["rescored"]:
        yield from paragraph(f"Scored against it: {trials_in_words(view['rescored'])}.")
    if view["of_other_reels"]:
        told = trials_in_words(view["of_other_reels"])
        yield from paragraph(f"Recordings of another proof reel, so their scores stay: {told}.")
    for warning in view["warnings"]:
        yield from paragraph(warning, 10, "Warning:")
    yield from _say_goal_again(view["study"], view["goal_again"])
    yield from whole("Next:", f"optimiser next {view['study']}")


def reel(
    study: StudyName,
    out: Annotated[Path, typer.Option("--out", help="Where to write the WAV file.")],
    kind: Annotated[str, typer.Option(help="learning, proof or verify.")] = "proof",
    riffs: Annotated[
        Path | None, typer.Option(help="Folder with your own dry riffs, NAME.wav each; else built-in ones.")
    ] = None,
    trial: Annotated[int | None, typer.Option(help="Whose riff order a learning reel plays.")] = None,
    sweep: Annotated[
        bool, typer.Option("--sweep", help="Add a sweep of 4 s, 20 Hz to 20 kHz, before the rest.")
    ] = False,
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Write the dry reel to be re-amped: for learning, for the proof, or one heard by nobody before."""
    from optimiser.storage import open_store
    from optimiser.workflow import ReelWish, write_reel

    with open_store(store, create=False) as opened:
        wish = ReelWish(kind, out, riffs, trial, sweep)
        return Outcome(write_reel(opened, study, wish, stamp()), _say_reel, as_json)


def _say_reel(view: View) -> Iterator[str]:
    reel = view["reel"]
    yield f"{reel['kind'].capitalize()} reel written: {view['file']}, {reel['seconds']:.1f} s."
    yield from paragraph(f"It plays {', '.join(reel['riffs'])}.")
    for remark in view["remarks"]:
        yield from paragraph(remark)
    if reel["kind"] == "proof":
        yield from paragraph("Reference, capture and goal reference are all recordings of this one file.")
    yield from _say_goal_again(view["study"], view["goal_again"])


COLUMNS_HELP: Final = (
    "What the table calls something, as in gain=Vol; once for each. OWN is a setting of the study's sheet (of a free "
    "mic mic.radial_mm and the like), overall, match, goal, articulation, reading, ear, day, note, or failed (yes "
    "where a run gave no capture). Without it, columns are known by these names."
)


def import_notes(
    study: StudyName,
    file: Annotated[Path, typer.Argument(metavar="NOTES.csv", help="One row a trial, the first line names columns.")],
    column: Annotated[
        list[str] | None,
        typer.Option("--column", metavar="OWN=THEIRS", help=COLUMNS_HELP),
    ] = None,
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Take in a table of old trials: all of it or nothing, and no row twice, whatever its columns are called now."""
    from optimiser.storage import open_store
    from optimiser.workflow import import_notes

    columns = {own: str(theirs) for own, theirs in assignments(column).items()}
    with open_store(store, create=False) as opened:
        return Outcome(import_notes(opened, study, file, columns, stamp()), _say_notes, as_json)


def _say_notes(view: View) -> Iterator[str]:
    from optimiser.study import trials_in_words

    numbers = view["trials"]
    if numbers:
        rows = f"{count(len(numbers), 'row')} taken into {view['study']}"
        yield from paragraph(f"{rows}, as {trials_in_words(numbers)}.")
    else:
        yield from paragraph(f"Nothing new taken into {view['study']}.")
    if view["known"]:
        again = (
            f"; {trials_in_words(view['restored'])} had been taken back, and count again" if view["restored"] else ""
        )
        yield from paragraph(f"{count(view['known'], 'row')} had been taken in before{again}.")
    if view["ignored"]:
        yield from paragraph(
            f"Columns that mean nothing here were left out: {', '.join(view['ignored'])}. If one should count, name it "
            "with --column NAME=THEIRS."
        )
    yield from whole("Next:", f"optimiser next {view['study']}")


COMMANDS: Final = (start, goal, reel, import_notes)
