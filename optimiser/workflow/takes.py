"""Two recordings in, a measured trial out; or a trial without files."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from optimiser.audio import open_recording
from optimiser.errors import BadUse, NotFound
from optimiser.storage import Store
from optimiser.study import ENTRY_WORDS, Event, StudyState, Trial, fold, trial_to_json, trials_in_words
from optimiser.units import SCORE_SCALE
from optimiser.workflow.dry_reels import dry_of
from optimiser.workflow.goal_scores import caught_up, path_of_goal
from optimiser.workflow.measuring import entries_of, measure_take
from optimiser.workflow.proof_reels import cut_in_words, layout_of, reel_of_file, wanted_for
from optimiser.workflow.sitting import day_of
from optimiser.workflow.stamp import Stamp, done_before
from optimiser.workflow.views import View, trial_view

SHORTEST_MINUTES: Final = 1.0
"""Nobody makes a capture faster; results that follow each other sooner are being written down later (no source)."""

LONGEST_MINUTES: Final = 45.0
"""What takes longer was interrupted (no source)."""


_OF_CAPTURE: Final = ("overall", "match", "goal", "articulation", "ear")
"""Figures that only a capture can have. A reading is none of them: the device may show one and fail all the same."""


@dataclass(frozen=True)
class Answer:
    """What the practitioner says of a trial that was made.

    Attributes:
        trial: number of the proposal that was followed; None with settings, or when only one is waiting.
        settings: what was really set, as text or values; None when it is what was proposed.
        figures: reading, ear rating, or an overall score given outright.
        note: free text.
        failed: the run gave no capture, so that nothing but a reading can be known of it.

    Raises:
        BadUse: a run that failed and has a score all the same, or an overall score off its scale.
    """

    trial: int | None = None
    settings: Mapping[str, object] | None = None
    figures: Mapping[str, float] | None = None
    note: str = ""
    failed: bool = False

    def __post_init__(self) -> None:
        check_overall((self.figures or {}).get("overall"))
        if self.failed and (scores := scores_of_failed(self.figures or {})):
            raise BadUse(
                f"A run that failed gave no capture, so it has no {scores}.",
                "Leave that out, or say nothing of a failure if there is a capture. A reading and a note may stay.",
            )


def check_overall(score: float | None) -> None:
    """See that an overall score that somebody gives lies on the scale that scores have.

    Raises:
        BadUse: it does not.
    """
    low, high = SCORE_SCALE
    if score is not None and not low <= score <= high:
        raise BadUse(f"An overall score cannot be {score:g}.", f"It is out of {high:g}: give {low:g} to {high:g}.")


def scores_of_failed(figures: Mapping[str, object]) -> str:
    """In words which of these figures a run that failed cannot have; empty where it can have them all."""
    names = [ENTRY_WORDS.get(name, name) for name in figures if name in _OF_CAPTURE]
    return " and no ".join(names)


def take(
    store: Store,
    name: str,
    files: tuple[Path, Path],
    answer: Answer,
    stamp: Stamp,
    *,
    labels: tuple[str, str] = ("", ""),
    tell: Callable[[str], None] = lambda _: None,
) -> View:
    """Measure reference and capture and keep them as a trial.

    `labels` are what the files are called where that is not their own names. `tell` hears of the measuring once all
    else is seen to be right.

    Raises:
        NotFound: no such study, trial or file.
        InvalidRecording, InvalidSettings, InvalidTrial, BadUse: what cannot be used; nothing is stored then.
    """
    events = store.events(name)
    state = fold(events)
    known = done_before(events, stamp, "measured", "failed")
    if known is not None:
        return trial_view(state, state.study.trial(known.trial or 0))
    _check(events, answer, stamp)
    paths = dict(zip(("reference", "capture"), files, strict=True))
    lasting = {part: open_recording(path).duration_s for part, path in paths.items()}
    tell("measuring")
    reel = reel_of_file(state, files[0])
    wanted = wanted_for(store, state, reel)
    if wanted is not None:
        paths["goal"] = path_of_goal(store, name, wanted.kept)
    layout = layout_of(state, reel)
    scores, told = entries_of(measure_take(paths, layout, wanted))
    kept = [store.audio.keep(path, name=label) for path, label in zip(files, labels, strict=True)]
    details = {
        "reference": {**asdict(kept[0]), **dry_of(state, files[0])},
        "capture": {**asdict(kept[1]), **dry_of(state, files[1])},
        "goal": dict(wanted.kept) if wanted is not None and wanted.same_reel else None,
        "reel": reel,
        **told,
        "warnings": [*told["warnings"], *cut_in_words(lasting, layout)],
    }
    figures = {score: figure for score, figure in scores.items() if figure is not None}
    view = _record(store, name, answer, figures, details, stamp)
    return view if fold(store.events(name)).goals == state.goals else _of_newest_goal(store, name, view["trial"], stamp)


def _of_newest_goal(store: Store, name: str, number: int, stamp: Stamp) -> View:
    """A trial that was being measured while somebody recorded a goal reference, scored against it."""
    with store.writing():
        state = fold(store.events(name))
        late = caught_up(store, state, number, stamp)
        if late is not None:
            store.append(name, late)
            state = state.after(late)
    return trial_view(state, state.study.trial(number))


def log(store: Store, name: str, answer: Answer, stamp: Stamp) -> View:
    """Keep a trial without files; `changed` is empty where the same run had failed by then already.

    Raises:
        NotFound: no such study or trial.
        InvalidSettings, InvalidTrial, BadUse: what cannot be used; nothing is stored then.
    """
    with store.writing():
        events = store.events(name)
        state = fold(events)
        if done_before(events, stamp, "measured", "failed") is None and _has_failed(state, answer):
            return {**trial_view(state, state.study.trial(answer.trial or 0)), "changed": []}
        return {**_record(store, name, answer, {}, {}, stamp), "changed": ["state"]}


def _has_failed(state: StudyState, answer: Answer) -> bool:
    """Whether the run is put down as failed already, with nothing more to be said of it.

    Raises:
        BadUse: it is, and something else is said of it now.
    """
    known = state.trials.get(answer.trial or 0)
    if not answer.failed or known is None or known.state != "failed":
        return False
    _, settings, _ = _identify(state, answer)
    says_more = answer.note not in ("", known.note) or settings != state.study.trial(answer.trial or 0).settings
    if says_more or any(getattr(known, name) != figure for name, figure in (answer.figures or {}).items()):
        raise BadUse(
            f"Trial {answer.trial} of {state.sheet.name} is recorded as failed already.",
            f"To put right what was written down of it: optimiser amend {state.sheet.name} {answer.trial}.",
        )
    return True


def check_answer(store: Store, name: str, answer: Answer, stamp: Stamp) -> None:
    """See that a take with these words could be kept, before its recordings are measured.

    Raises:
        NotFound: no such study or trial.
        InvalidSettings, InvalidTrial, BadUse: what cannot be used.
    """
    _check(store.events(name), answer, stamp)


def _check(events: Sequence[Event], answer: Answer, stamp: Stamp) -> None:
    _ = fold(events).after(_event(events, answer, {"match": 0.0}, {}, stamp)).study


def _record(
    store: Store, name: str, answer: Answer, figures: Mapping[str, float], details: Mapping[str, Any], stamp: Stamp
) -> View:
    with store.writing():
        events = store.events(name)
        state = fold(events)
        known = done_before(events, stamp, "measured", "failed")
        if known is None:
            event = _event(events, answer, {**figures, **_timed(events, stamp)}, details, stamp)
            _ = state.after(event).study
            (known,) = store.append(name, event)
            events = (*events, known)
    state = fold(events)
    return trial_view(state, state.study.trial(known.body["trial"]["trial"]))


def _timed(events: Sequence[Event], stamp: Stamp) -> dict[str, float]:
    """Minutes since the trial was proposed or the one before was made, whichever came last; none across a break."""
    times = [event.at for event in events if event.kind in ("proposed", "measured", "failed")]
    if not times:
        return {}
    minutes = (stamp.at - datetime.fromisoformat(times[-1])).total_seconds() / 60.0
    return {"minutes": round(minutes, 2)} if SHORTEST_MINUTES <= minutes <= LONGEST_MINUTES else {}


def _event(
    events: Sequence[Event], answer: Answer, figures: Mapping[str, float], details: Mapping[str, Any], stamp: Stamp
) -> Event:
    state = fold(events)
    number, settings, asked = _identify(state, answer)
    trial = Trial(
        settings,
        number=number,
        day=day_of(events, state, stamp),
        state="failed" if answer.failed else "measured",
        note=answer.note,
        **{**figures, **(answer.figures or {})},
    )
    body = {"trial": trial_to_json(trial), "asked": asked, "details": dict(details)}
    return Event("failed" if answer.failed else "measured", body, stamp.iso(), stamp.actor, stamp.reason, stamp.key)


def _identify(state: StudyState, answer: Answer) -> tuple[int, dict[str, Any], dict[str, Any] | None]:
    """Number, settings really set, and the settings asked for where they differ."""
    study = state.study
    settings = study.sheet.space.parse(answer.settings) if answer.settings else None
    number = answer.trial
    if number is None:
        if settings is not None:
            return state.next_number, settings, None
        number = _only_waiting(state)
    trial = study.trial(number)
    if trial.state == "measured":
        raise _measured_already(study.sheet.name, number)
    asked = dict(trial.settings)
    if settings is None or settings == asked:
        return number, asked, None
    return number, settings, asked


def _measured_already(name: str, number: int) -> BadUse:
    return BadUse(
        f"Trial {number} of {name} is measured already.",
        f"Made again? optimiser void {name} {number}, then optimiser take {name} REFERENCE.wav CAPTURE.wav --trial "
        f"{number}. Only a figure is wrong? optimiser amend {name} {number} --reading X. One more trial? Leave out "
        "--trial and say with --set what was set.",
    )


def _only_waiting(state: StudyState) -> int:
    waiting = state.study.in_state("waiting")
    name = state.study.sheet.name
    if not waiting:
        raise NotFound(
            f"No trial of {name} is waiting for a take.", f"Ask optimiser next {name}, or say what was set with --set."
        )
    if len(waiting) > 1:
        told = trials_in_words(trial.number or 0 for trial in waiting)
        raise BadUse(f"{told[0].upper()}{told[1:]} of {name} are waiting.", "Say which one was made with --trial N.")
    return waiting[0].number or 0
