"""next, take, log, predict, plan: the hunt itself."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from optimiser.cli.commands.advising import say_weights
from optimiser.cli.commands.measuring import say_articulation, say_parts, say_remarks
from optimiser.cli.commands.words import KeyWord, LockWords, SetWords, StudyName, assignments, figure, stamp
from optimiser.cli.outcome import AsJson, Outcome, StoreUrl, View, tell
from optimiser.cli.printing import columns, count, listed, number, paragraph, percent, plus_minus
from optimiser.units import INTERVAL_SDS, exposure_minutes, show_minutes

if TYPE_CHECKING:
    from optimiser.workflow import Answer

TrialNumber = Annotated[int | None, typer.Option("--trial", help="Number of the proposal that was followed.")]
Reading = Annotated[
    float | None,
    typer.Option(parser=figure, metavar="FLOAT", help="The device's number, before any fine-tuning on the device."),
]
Ear = Annotated[float | None, typer.Option(parser=figure, metavar="FLOAT", help="Your own verdict, 0 to 10.")]
Note = Annotated[str, typer.Option(help="Anything worth remembering.")]


def next_command(
    study: StudyName,
    count_: Annotated[int, typer.Option("--count", help="How many trials to propose.")] = 1,
    minutes: Annotated[float | None, typer.Option(help="The time there is: as many trials as fit.")] = None,
    lock: LockWords = None,
    other: Annotated[bool, typer.Option("--other", help="Decline what is handed out and give another.")] = False,
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """What to try next; asked again before an answer, the same answer."""
    from optimiser.storage import open_store
    from optimiser.workflow import Wish, next_trials

    wish = Wish(count_, minutes, assignments(lock), other)
    with open_store(store, create=False) as opened:
        return Outcome(next_trials(opened, study, wish, stamp()), _say_next, as_json)


next_command.__name__ = "next"


def _say_next(view: View) -> Iterator[str]:
    yield from _say_put_aside(view["put_aside"])
    for proposal in view["proposals"]:
        yield f"TRY NEXT: trial {proposal['trial']} of {view['study']}"
        yield from columns(proposal["shown"].items())
        yield from _say_held(proposal["held"], view["held_for_time"])
        if proposal["changes"]:
            yield from paragraph(
                f"{proposal['changes']} (about {show_minutes(proposal['effort_minutes'])} of handling "
                f"since trial {proposal['since_trial']})",
                10,
                "Change:",
            )
        if proposal["expected"] is not None:
            band = proposal.get("chance_in_band")
            accepted = "" if band is None else f", reading accepted {percent(band)}"
            yield (
                f"Expected: {plus_minus(proposal['expected'], proposal['expected_se'])}, "
                f"chance of a new best {percent(proposal['chance_best'])}{accepted}"
            )
        yield from paragraph(proposal["reason"], 10, "Why:")
        yield from _say_portions(proposal)
        yield from _say_easier(proposal.get("runner_up"))
        yield ""
    yield from _say_time(view)
    yield from say_outlook(view["outlook"])
    yield from say_weights(view["advisers"])
    first = view["proposals"][0]["trial"]
    yield f"Then: optimiser take {view['study']} REFERENCE.wav CAPTURE.wav --trial {first} --reading X"


def _say_put_aside(declined: Sequence[View]) -> Iterator[str]:
    """The waiting trials that will not be made, with the reason."""
    for reason in dict.fromkeys(one["reason"] for one in declined):
        numbers = [one["trial"] for one in declined if one["reason"] == reason]
        yield from paragraph(f"trial{'s' if len(numbers) > 1 else ''} {listed(numbers)} ({reason})", 11, "Put aside:")
    if declined:
        yield ""


def _say_held(held: Sequence[str], for_time: Sequence[str]) -> Iterator[str]:
    if held:
        yield from paragraph(f"{listed(held)}, as you asked", 10, "Held:")
    if for_time:
        yield from paragraph(f"{listed(for_time)}, since a change takes longer than there is", 10, "Held:")


def _say_time(view: View) -> Iterator[str]:
    """How long it all takes, where several are handed out or the time was told."""
    trials, spent, given = len(view["proposals"]), view["minutes"], view["minutes_given"]
    if trials > 1 or given is not None:
        much = f"; more than the {show_minutes(given)} there are" if given is not None and spent > given else ""
        told = f"about {show_minutes(spent)} for {count(trials, 'trial')}, handling included{much}"
        yield from paragraph(told, 10, "Time:")


def _say_portions(proposal: View) -> Iterator[str]:
    """What each setting's change is good for, where more than one changes."""
    portions = proposal.get("by_setting") or {}
    told = [
        f"{name} {_signed(portion['gain'])} expected, {_signed(INTERVAL_SDS * portion['doubt'])} of doubt"
        for name, portion in portions.items()
        if portion["gain"] or portion["doubt"]
    ]
    if len(told) > 1:
        yield from paragraph(f"against trial {proposal['nearest']}, in points: {'; '.join(told)}", 10, "Shares:")


def _signed(points: float) -> str:
    """With its sign, and without one where nothing is left after rounding."""
    return f"{points:+.1f}".replace("+0.0", "0.0").replace("-0.0", "0.0")


def _say_easier(easier: View | None) -> Iterator[str]:
    if easier:
        yield from paragraph(
            f"{easier.get('changes', '')} (about {show_minutes(easier['effort_minutes'])} of handling), expected "
            f"{plus_minus(easier['expected'], easier['expected_se'])}; to take it, set it and log it with --set",
            10,
            "Easier:",
        )


def say_outlook(outlook: View) -> Iterator[str]:
    """What further trials could still gain."""
    if outlook["gain_left"] is None:
        return
    yield from paragraph(
        f"{outlook['advice']}; about {number(outlook['gain_left'])} points still to gain, "
        f"{percent(outlook['chance_near_best'])} sure that the recommended settings are within "
        f"{number(outlook['eps'])} points of the best",
        10,
        "Outlook:",
    )
    yield from _say_days(outlook.get("days") or ())
    if outlook.get("checked"):
        yield from paragraph(
            f"left out one by one, {outlook['covered']} of {outlook['checked']} trials lie inside the 90 % interval "
            "that the others predict",
            10,
            "Checked:",
        )
    for trial in outlook.get("doubted") or ():
        yield from paragraph(
            f"trial {trial} fits none of the others and counts for little. A botched take or a wrong number? Make it "
            "again, or leave it.",
            10,
            "Doubtful:",
        )


def _say_days(days: Sequence[View]) -> Iterator[str]:
    """What the newest day reads high or low by."""
    if days:
        newest = days[-1]
        hint = "" if newest["linked"] else "; a trial of another day made again today would tell it better"
        yield from paragraph(
            f"{newest['day']} reads {newest['shown']} against all days; scores are compared with that taken off{hint}",
            10,
            "Days:",
        )


def take(
    study: StudyName,
    reference: Annotated[Path, typer.Argument(metavar="REFERENCE.wav", help="The real chain, playing the reel.")],
    capture: Annotated[Path, typer.Argument(metavar="CAPTURE.wav", help="The capture, playing the same reel.")],
    trial: TrialNumber = None,
    set_: SetWords = None,
    reading: Reading = None,
    ear: Ear = None,
    note: Note = "",
    key: KeyWord = "",
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Hand over the two recordings of a trial: they are measured and kept."""
    from optimiser.storage import open_store
    from optimiser.workflow import take

    answer = _answer(trial, set_, {"reading": reading, "ear": ear}, note)
    tell("measuring")
    with open_store(store, create=False) as opened:
        return Outcome(take(opened, study, (reference, capture), answer, stamp(key=key)), _say_trial, as_json)


def log(
    study: StudyName,
    trial: TrialNumber = None,
    set_: SetWords = None,
    overall: Annotated[
        float | None, typer.Option(parser=figure, metavar="FLOAT", help="An overall score given outright.")
    ] = None,
    reading: Reading = None,
    ear: Ear = None,
    failed: Annotated[bool, typer.Option("--failed", help="The run gave no capture.")] = False,
    note: Note = "",
    key: KeyWord = "",
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Keep a trial without files: figures that you have, or a run that failed."""
    from optimiser.storage import open_store
    from optimiser.workflow import log

    answer = _answer(trial, set_, {"overall": overall, "reading": reading, "ear": ear}, note, failed=failed)
    with open_store(store, create=False) as opened:
        return Outcome(log(opened, study, answer, stamp(key=key)), _say_trial, as_json)


def _answer(
    trial: int | None, words: list[str] | None, figures: dict[str, float | None], note: str, *, failed: bool = False
) -> "Answer":
    from optimiser.workflow import Answer

    known = {name: figure for name, figure in figures.items() if figure is not None}
    return Answer(trial, assignments(words) or None, known, note, failed)


def _say_trial(view: View) -> Iterator[str]:
    name = view["study"]
    yield f"Trial {view['trial']} of {name} {'kept' if view['state'] == 'measured' else view['state']}:"
    yield from columns(view["shown"].items())
    if view["outside"]:
        yield from paragraph(f"Outside the sheet: {', '.join(view['outside'])}. Kept as set, and marked.")
    if view["overall"] is not None:
        yield f"Overall       {plus_minus(view['overall'], view['overall_se'])} of 100"
    for part in ("match", "goal"):
        if view[part] is not None:
            yield f"{part.capitalize():<14}{plus_minus(view[part], view[part + '_se'])}"
    yield from say_articulation(view)
    if view["reading"] is not None:
        verdict = f" ({view['reading_verdict']})" if view["reading_verdict"] else ""
        yield from paragraph(f"{view['reading']:g}{verdict}", 14, "Reading")
    if view["parts"]:
        yield from say_parts(view["parts"])
    yield from say_remarks(view)
    yield f"Next: optimiser next {name}"


def predict(study: StudyName, set_: SetWords = None, store: StoreUrl = None, as_json: AsJson = False) -> Outcome:
    """What would these settings give?"""
    from optimiser.storage import open_store
    from optimiser.workflow import predicted

    with open_store(store, create=False) as opened:
        return Outcome(predicted(opened, study, assignments(set_)), _say_predict, as_json)


def _say_predict(view: View) -> Iterator[str]:
    yield from columns(view["shown"].items())
    yield f"Expected  {plus_minus(view['mean'], view['se'])} of 100 (belief)"
    yield f"A single trial would scatter round that by another {number(view['noise'])}."
    if view["chance_in_band"] is not None:
        yield f"Reading accepted with a chance of {percent(view['chance_in_band'])}."
    if view["outside"]:
        yield from paragraph(f"Outside the sheet: {', '.join(view['outside'])}; expect little of this figure.")


def plan(
    study: StudyName,
    hours: Annotated[float, typer.Option(help="How long the session is to last.")],
    spl: Annotated[float | None, typer.Option(help="Level where you sit, dBA.")] = None,
    lock: LockWords = None,
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """A session's trials in the order of least handling, and what the level allows."""
    from optimiser.review import CAUTIONS
    from optimiser.storage import open_store
    from optimiser.workflow import Wish, next_trials

    with open_store(store, create=False) as opened:
        view = next_trials(opened, study, Wish(minutes=60 * hours, locked=assignments(lock)), stamp())
    allowed = None if spl is None else exposure_minutes(spl)
    return Outcome({**view, "spl_dba": spl, "allowed_minutes": allowed, "cautions": list(CAUTIONS)}, _say_plan, as_json)


def _say_plan(view: View) -> Iterator[str]:
    if view["allowed_minutes"] is not None:
        yield from paragraph(
            f"At {view['spl_dba']:g} dBA the recommended limit is {show_minutes(view['allowed_minutes'])} a day "
            "(NIOSH 98-126: 85 dBA for 8 h, halved every 3 dB). Local codes come first.",
            10,
            "Hearing:",
        )
    for caution in view["cautions"]:
        yield from paragraph(caution, 10, "Caution:")
    yield ""
    yield from _say_next(view)


COMMANDS: Final = (next_command, take, log, predict, plan)
