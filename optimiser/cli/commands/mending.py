"""amend, void, unvoid, undo, history: nothing is ever overwritten."""

from collections.abc import Iterator
from typing import Annotated, Final

import typer

from optimiser.cli.commands.words import KeyWord, SetWords, StudyName, assignments, figure, stamp
from optimiser.cli.outcome import AsJson, Outcome, StoreUrl, View
from optimiser.cli.printing import columns, of_100, paragraph, plus_minus, whole
from optimiser.errors import BadUse

TrialNumber = Annotated[int, typer.Argument(metavar="TRIAL", help="The trial's number.")]
Reason = Annotated[str, typer.Option(help="Why; it is kept with the change.")]


def amend(
    study: StudyName,
    trial: TrialNumber,
    set_: SetWords = None,
    overall: Annotated[
        float | None, typer.Option(parser=figure, metavar="FLOAT", help="An overall score given outright.")
    ] = None,
    reading: Annotated[float | None, typer.Option(parser=figure, metavar="FLOAT", help="The device's number.")] = None,
    ear: Annotated[
        float | None, typer.Option(parser=figure, metavar="FLOAT", help="Your own verdict, 0 to 10.")
    ] = None,
    note: Annotated[str | None, typer.Option(help="Anything worth remembering.")] = None,
    day: Annotated[str | None, typer.Option(help="The day it was made, as in 2026-03-02.")] = None,
    clear: Annotated[list[str] | None, typer.Option(help="An entry to take out, as in reading.")] = None,
    reason: Reason = "",
    key: KeyWord = "",
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Put right what was written down of a trial; what stood there before is kept."""
    from optimiser.storage import open_store
    from optimiser.workflow import Amendment, amend

    entries = {"overall": overall, "reading": reading, "ear": ear, "note": note, "day": day}
    known = {name: entry for name, entry in entries.items() if entry is not None}
    amendment = Amendment(assignments(set_), known, tuple(clear or ()))
    with open_store(store, create=False) as opened:
        return Outcome(amend(opened, study, trial, amendment, stamp(reason, key)), _say_amended, as_json)


def _say_amended(view: View) -> Iterator[str]:
    name, number = view["study"], view["trial"]
    if not view["changed"]:
        yield from paragraph(f"Trial {number} of {name} stands like that already.")
        yield from _say_remark(view)
        return
    told = ["ear rating" if entry == "ear" else entry for entry in view["changed"]]
    yield from paragraph(f"Trial {number} of {name} put right: {', '.join(told)}.")
    yield from columns(view["shown"].items())
    if view["overall"] is not None:
        yield f"Overall       {of_100(view['overall'], view['overall_se'])}"
    if view["reading"] is not None:
        yield f"Reading       {view['reading']:g}"
    yield from whole("To take it back:", f"optimiser undo {name}")


def void(
    study: StudyName,
    trial: TrialNumber,
    reason: Reason = "",
    key: KeyWord = "",
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Strike a trial out: it stays readable, and counts for nothing."""
    from optimiser.storage import open_store
    from optimiser.workflow import void

    with open_store(store, create=False) as opened:
        return Outcome(void(opened, study, trial, stamp(reason, key)), _say_void, as_json)


def _say_void(view: View) -> Iterator[str]:
    name, number = view["study"], view["trial"]
    yield f"Trial {number} of {name} {'is' if view['changed'] else 'was already'} struck out and counts for nothing."
    yield from _say_remark(view)
    yield f"To let it count again: optimiser unvoid {name} {number}"


def unvoid(
    study: StudyName,
    trial: TrialNumber,
    reason: Reason = "",
    key: KeyWord = "",
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Let a trial that was struck out count again."""
    from optimiser.storage import open_store
    from optimiser.workflow import unvoid

    with open_store(store, create=False) as opened:
        return Outcome(unvoid(opened, study, trial, stamp(reason, key)), _say_unvoid, as_json)


def _say_unvoid(view: View) -> Iterator[str]:
    counts = "counts again" if view["changed"] else "was not struck out"
    yield f"Trial {view['trial']} of {view['study']} {counts}: {view['state']}."
    if "goal" in view["changed"]:
        yield from paragraph(
            "Scored against the goal reference, which was recorded meanwhile: "
            f"goal {plus_minus(view['goal'], view['goal_se'])}."
        )
    yield from _say_remark(view)


def _say_remark(view: View) -> Iterator[str]:
    """What there is to say besides, a command at its end in one piece to be copied."""
    told, colon, command = view["remark"].rpartition(": ")
    if command.startswith("optimiser "):
        yield from whole(told + colon.strip(), command)
    elif view["remark"]:
        yield from paragraph(view["remark"])


def undo(
    study: StudyName, reason: Reason = "", key: KeyWord = "", store: StoreUrl = None, as_json: AsJson = False
) -> Outcome:
    """Take back the newest step with all that it changed; again, and the one before it goes."""
    from optimiser.storage import open_store
    from optimiser.workflow import undo

    with open_store(store, create=False) as opened:
        return Outcome(undo(opened, study, stamp(reason, key)), _say_undo, as_json)


def _say_undo(view: View) -> Iterator[str]:
    from optimiser.study import trials_in_words

    name, later = view["study"], view["still_waiting"]
    yield from paragraph(f"Taken back in {name}: {view['shown']}.")
    if later:
        told = trials_in_words(later)
        yield from paragraph(f"What was proposed is not taken back: {told} still wait{'s' * (len(later) == 1)}.")
        yield from whole("To put it aside:", f"optimiser next {name} --other")
    yield from whole("What a study holds:", f"optimiser history {view['study']}")


def history(
    study: StudyName,
    trial: Annotated[int | None, typer.Option("--trial", help="Only what happened to this trial.")] = None,
    again: Annotated[int | None, typer.Option("--again", help="Make the proposal behind this trial again.")] = None,
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Everything that happened, with its time and reason; or one proposal made again as it was then."""
    from optimiser.storage import open_store
    from optimiser.workflow import history, replayed

    if trial is not None and again is not None:
        raise BadUse("--trial and --again ask for different things.", "Give one of them.")
    with open_store(store, create=False) as opened:
        if again is not None:
            return Outcome(replayed(opened, study, again), _say_replayed, as_json)
        return Outcome(history(opened, study, trial), _say_history, as_json)


def _say_history(view: View) -> Iterator[str]:
    numbers = {event["event"] for event in view["events"]}
    for event in view["events"]:
        of = f"trial {event['trial']} " if event["trial"] is not None else ""
        back = f", taking back event {event['undoes']}" if event["undoes"] else ""
        gone = f" - taken back by event {event['undone_by']}" if event["undone_by"] else ""
        why = f" ({event['reason']})" if event["reason"] else ""
        what = f": {event['what']}" if event["what"] else ""
        when = f"with {event['part_of']}" if event["part_of"] in numbers else event["shown"]
        yield from paragraph(f"{of}{event['words']}{what}{back}{why}{gone}", 22, f"{event['event']:>3}  {when}")


def _say_replayed(view: View) -> Iterator[str]:
    what = f"The proposal behind trial {view['trial']} of {view['study']}"
    if view["same"]:
        yield from paragraph(f"{what}, made again from the study as it stood then, is the same to the bit.")
    elif view["same"] is None:
        yield from paragraph(f"{what} cannot be made again: {view['reason']}.")
    else:
        yield from paragraph(f"{what} comes out otherwise now ({', '.join(view['differs'])}): {view['reason']}.")
        yield "It was handed out as:"
        yield from columns(view["shown"].items())
        yield "Now it would be:"
        yield from columns(view["again_shown"].items())


COMMANDS: Final = (amend, void, unvoid, undo, history)
