"""next, take, log, predict, plan: the hunt itself."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from optimiser.cli.commands.measuring import say_articulation, say_parts, say_remarks
from optimiser.cli.commands.proposals import say_basis, say_next, say_session
from optimiser.cli.commands.words import KeyWord, LockWords, SetWords, StudyName, assignments, figure, stamp
from optimiser.cli.outcome import AsJson, Outcome, StoreUrl, View, tell
from optimiser.cli.printing import capital, columns, number, of_100, paragraph, percent, plus_minus, whole
from optimiser.errors import BadUse
from optimiser.units import DAY_MINUTES, INTERVAL_SDS, exposure_minutes

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
    minutes: Annotated[
        float | None,
        typer.Option(parser=figure, metavar="FLOAT", help="The time there is: as many trials as fit."),
    ] = None,
    lock: LockWords = None,
    other: Annotated[bool, typer.Option("--other", help="Put aside what is handed out and give another.")] = False,
    let_go: Annotated[
        bool, typer.Option("--let-go", help="With --other: no longer keep what was locked for it.")
    ] = False,
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """What to try next; asked again before an answer, the same answer."""
    from optimiser.storage import open_store
    from optimiser.workflow import Wish, next_trials

    if let_go and (lock or not other):
        raise BadUse("--let-go goes with --other, and not with --lock.", "Lock what is to be kept, or let go of it.")
    wish = Wish(count_, minutes, assignments(lock) if lock or let_go else None, other)
    with open_store(store, create=False) as opened:
        return Outcome(next_trials(opened, study, wish, stamp()), say_next, as_json)


next_command.__name__ = "next"


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
    with open_store(store, create=False) as opened:
        view = take(opened, study, (reference, capture), answer, stamp(key=key), tell=tell)
        return Outcome(view, _say_trial, as_json)


def log(
    study: StudyName,
    trial: TrialNumber = None,
    set_: SetWords = None,
    overall: Annotated[
        float | None, typer.Option(parser=figure, metavar="FLOAT", help="An overall score given outright.")
    ] = None,
    reading: Reading = None,
    ear: Ear = None,
    failed: Annotated[
        bool, typer.Option("--failed", help="The run gave no capture: no score, perhaps a reading.")
    ] = False,
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
    if view.get("changed") == []:
        yield from paragraph(f"Trial {view['trial']} of {name} is recorded as failed already.")
        yield from whole("Next:", f"optimiser next {name}")
        return
    yield from paragraph(f"Trial {view['trial']} of {name} {'kept' if view['state'] == 'measured' else view['state']}:")
    yield from columns(view["shown"].items())
    if view["outside"]:
        yield from paragraph(f"Outside the sheet: {', '.join(view['outside'])}. Kept as set, and marked.")
    if view["overall"] is not None and not view["by_reading"]:
        yield f"Overall       {of_100(view['overall'], view['overall_se'])}"
    elif view["match"] is not None:
        yield "Overall       none yet: not all of its parts are known"
    for part in ("match", "goal"):
        if view[part] is not None:
            yield f"{part.capitalize():<14}{plus_minus(view[part], view[part + '_se'])}"
    yield from say_articulation(view)
    if view["reading"] is not None:
        verdict = f" ({view['reading_verdict']})" if view["reading_verdict"] else ""
        yield from paragraph(f"{view['reading']:g}{verdict}", 14, "Reading")
        yield from _say_what_it_counts(view)
    if view["parts"]:
        yield from say_parts(view["parts"])
    yield from say_remarks(view)
    yield from whole("To take it back:", f"optimiser undo {name}")
    if view["asks_again"]:
        words = " ".join(f"--set {setting}=..." for setting in view["shown"])
        yield from whole("Again, tamer:", f"optimiser take {name} REFERENCE.wav CAPTURE.wav {words} --reading X")
    yield from whole("Or go on:" if view["asks_again"] else "Next:", f"optimiser next {name}")


def _say_what_it_counts(view: View) -> Iterator[str]:
    """What a reading counts as that came alone."""
    if view["by_reading"]:
        yield from paragraph(f"{of_100(view['overall'], None)} {view['by_reading']}", 14, "Counts as")
    elif view["state"] == "measured" and all(view[part] is None for part in ("overall", "match", "ear")):
        yield from paragraph("which readings are to be expected; by itself it is no score", 14, "Tells of")


def predict(study: StudyName, set_: SetWords = None, store: StoreUrl = None, as_json: AsJson = False) -> Outcome:
    """What would these settings give?"""
    from optimiser.storage import open_store
    from optimiser.workflow import predicted

    with open_store(store, create=False) as opened:
        return Outcome(predicted(opened, study, assignments(set_)), _say_predict, as_json)


def _say_predict(view: View) -> Iterator[str]:
    yield from columns(view["shown"].items())
    yield f"Expected  {plus_minus(view['mean'], view['se'])} of 100 (belief)"
    more = number(INTERVAL_SDS * view["noise"])
    yield from paragraph(f"One take may differ from that by another +-{more}, as repeats of one trial do.")
    if view["chance_in_band"] is not None:
        yield from paragraph(f"{capital(view['accepted'])}: {percent(view['chance_in_band'])}")
    yield from say_basis(view)
    if view["outside"]:
        yield from paragraph(f"Outside the sheet: {', '.join(view['outside'])}; expect little of this figure.")


def plan(
    study: StudyName,
    hours: Annotated[
        float, typer.Option(parser=figure, metavar="FLOAT", help="How long the session is to last, as in 1.5.")
    ],
    spl: Annotated[
        float | None, typer.Option(parser=figure, metavar="FLOAT", help="Level where you sit, 0 to 140 dBA.")
    ] = None,
    lock: LockWords = None,
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """A session's trials in the order of least handling, and what the level allows."""
    from optimiser.review import CAUTIONS, exposure_sentence
    from optimiser.storage import open_store
    from optimiser.workflow import Wish, next_trials

    if not 0 < hours <= DAY_MINUTES / 60:
        raise BadUse(
            f"A session cannot last {hours:g} hours.",
            f"Give the hours there are, more than 0 and at most {DAY_MINUTES / 60:g}, as in --hours 1.5.",
        )
    hearing = {
        "spl_dba": spl,
        "allowed_minutes": None if spl is None else exposure_minutes(spl),
        "hearing": "" if spl is None else exposure_sentence(spl),
        "cautions": list(CAUTIONS),
    }
    with open_store(store, create=False) as opened:
        view = next_trials(opened, study, Wish(minutes=60 * hours, locked=assignments(lock) if lock else None), stamp())
    return Outcome({**view, **hearing}, _say_plan, as_json)


def _say_plan(view: View) -> Iterator[str]:
    if view["allowed_minutes"] is not None:
        over = view["minutes_given"] > view["allowed_minutes"]
        longer = " The session is longer: wear protection, or monitor from another room." if over else ""
        yield from paragraph(view["hearing"] + longer, 10, "Hearing:")
    for caution in view["cautions"]:
        yield from paragraph(caution, 10, "Caution:")
    yield ""
    yield from say_session(view)


COMMANDS: Final = (next_command, take, log, predict, plan)
