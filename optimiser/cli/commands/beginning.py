"""start, goal, reel: before the first trial."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Final

import typer

from optimiser.cli.commands.words import StudyName, stamp
from optimiser.cli.outcome import AsJson, Outcome, StoreUrl, View, tell
from optimiser.cli.printing import paragraph


def start(
    sheet: Annotated[Path, typer.Argument(metavar="SHEET.toml", help="The study sheet.")],
    reason: Annotated[str, typer.Option(help="Why the sheet was changed.")] = "",
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Start a study from its sheet, or give it a new version of the sheet."""
    from optimiser.storage import open_store
    from optimiser.workflow import read_text, start

    text = read_text(sheet)
    with open_store(store) as opened:
        return Outcome(start(opened, text, stamp(reason)), _say_start, as_json)


def _say_start(view: View) -> Iterator[str]:
    name = view["study"]
    did = "started" if view["new"] else "has a new version of its sheet" if view["changed"] else "is unchanged"
    yield f"Study {name} {did}: {', '.join(view['settings'])}."
    if not view["goal"]:
        yield from paragraph(
            f"Record the tone you want once, then: optimiser goal {name} FILE.wav (a recording of the proof reel, "
            f"see optimiser reel {name} --kind proof --out proof.wav)."
        )
    yield f"Next: optimiser next {name}"


def goal(
    study: StudyName,
    file: Annotated[Path, typer.Argument(metavar="FILE.wav", help="The wanted tone, playing the proof reel.")],
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Keep the tone that is wanted in the end; takes made before are scored against it."""
    from optimiser.storage import open_store
    from optimiser.workflow import record_goal

    with open_store(store) as opened:
        return Outcome(record_goal(opened, study, file, stamp(), tell), _say_goal, as_json)


def _say_goal(view: View) -> Iterator[str]:
    kept = view["goal"]
    yield f"Goal reference of {view['study']} kept: {kept['name']}, {kept['seconds']:.1f} s."
    if view["rescored"]:
        yield f"Scored against it: trials {', '.join(str(number) for number in view['rescored'])}."
    yield f"Next: optimiser next {view['study']}"


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

    with open_store(store) as opened:
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


COMMANDS: Final = (start, goal, reel)
