"""One study on one screen: where it stands, what to try next, what was made last."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Final

from optimiser.proposals import recommend
from optimiser.review import alike
from optimiser.space import AXES, Choice, Knob, MicPlace, MicSpot, RiffOrder, Setting, Stage
from optimiser.storage import Store
from optimiser.study import StudyState, fold, sheet_to_tables, write_sheet
from optimiser.workflow.dry_reels import dry_in_words
from optimiser.workflow.levels import highest_of, levels_of
from optimiser.workflow.looking import summary
from optimiser.workflow.proof_reels import goal_again
from optimiser.workflow.views import View, outlook_view, proposals_view, recommended_view, trial_view
from optimiser.workflow.walking import waiting

_KINDS: Final[Mapping[type, str]] = {
    Knob: "knob",
    Stage: "stage",
    MicSpot: "mic",
    MicPlace: "mic",
    RiffOrder: "riff order",
    Choice: "choice",
}


def study_view(store: Store, name: str) -> View:
    """A study as it stands: its sheet, the proposals that wait, the best trial and the one that was made last.

    Raises:
        NotFound: no such study.
    """
    events = store.events(name)
    state = fold(events)
    levels = levels_of(state.study)
    sheet, highest, last = state.sheet, highest_of(state.study), state.present()
    return {
        **summary(state),
        "best": highest[1] if highest else None,
        "best_trial": highest[0].number if highest else None,
        "best_alike": list(alike(levels, highest[0].number or 0)) if highest else [],
        "event": len(events),
        "sheet": sheet_to_tables(sheet),
        "sheet_text": write_sheet(sheet),
        "settings": [setting_view(setting) for setting in sheet.space.settings],
        "reading_band": {**asdict(sheet.reading), "accepted": sheet.reading.accepted} if sheet.reading else None,
        "goal_reference": _goal_shown(state),
        "proof_reel": _reel_shown(state),
        "goal_again": goal_again(state),
        "proposals": proposals_view(state, waiting(state)),
        "best_shown": {**trial_view(state, highest[0]), "levelled": highest[1]} if highest else None,
        "last": trial_view(state, last) if last else None,
    }


def _goal_shown(state: StudyState) -> View | None:
    """What a page says of the study's goal reference."""
    goal = state.goal
    return None if goal is None else {**goal, "warnings": dry_in_words({"goal reference": goal})}


def _reel_shown(state: StudyState) -> View | None:
    """What a page says of the study's proof reel."""
    reel = state.reels.get("proof")
    return None if reel is None else {entry: reel[entry] for entry in ("riffs", "rate_hz", "seconds")}


def setting_view(setting: Setting) -> View:
    """What a form needs to ask for a setting."""
    view: View = {"name": setting.name, "kind": _KINDS[type(setting)], "only_when": setting.only_when is not None}
    match setting:
        case Knob():
            view |= {name: getattr(setting, name) for name in ("scale", "low", "high", "tolerance", "unit")}
        case Stage():
            view["steps"] = list(setting.steps)
        case MicSpot():
            places = {spot.name: dict(zip(AXES, spot.place, strict=True)) for spot in setting.spots if spot.place}
            view |= {"free": False, "spots": [spot.name for spot in setting.spots], "places": places}
        case MicPlace():
            ranges = dict(zip(AXES, map(list, setting.ranges), strict=True))
            view |= {"free": True, "axes": list(AXES), "ranges": ranges, "tolerance": setting.tolerance}
        case RiffOrder():
            view["riffs"] = list(setting.riffs)
        case Choice():
            view["options"] = list(setting.options)
    return view


def trial_of(store: Store, name: str, number: int) -> View:
    """One trial.

    Raises:
        NotFound: no such study or trial.
    """
    state = fold(store.events(name))
    return trial_view(state, state.study.trial(number))


def trials_view(store: Store, name: str) -> View:
    """Every trial by rising number, with its score as it counts beside those of other days.

    Raises:
        NotFound: no such study.
    """
    events = store.events(name)
    state = fold(events)
    levels = levels_of(state.study)
    trials = [{**trial_view(state, trial), "levelled": levels.get(trial.number or 0)} for trial in state.study.trials]
    return {"study": name, "event": len(events), "trials": trials}


def outlook_of(store: Store, name: str) -> View:
    """What further trials could still gain, and what to keep now; figures are None while nothing is scored.

    Raises:
        NotFound: no such study.
    """
    events = store.events(name)
    study = fold(events).study
    kept = None
    if any(study.overall(trial) is not None for trial in study.in_state("measured")):
        kept = recommended_view(study, recommend(study))
    return {"study": name, "event": len(events), **outlook_view(study), "recommended": kept}
