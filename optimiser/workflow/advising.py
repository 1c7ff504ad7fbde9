"""Earlier studies as advisers of a new one: chosen, changed, weighed."""

from collections.abc import Sequence
from dataclasses import asdict, replace
from typing import Any

from optimiser.errors import BadInput, BadUse
from optimiser.proposals import refusals, weigh_advisers, weights_in_words
from optimiser.storage import Store
from optimiser.study import Event, Study, StudyState, fold, study_from_json, study_to_json
from optimiser.workflow.stamp import Stamp, not_kept
from optimiser.workflow.views import View


def choose_advisers(store: Store, name: str, names: Sequence[str], stamp: Stamp) -> View:
    """Let a study be advised by these earlier ones, as they stand now, and by no others.

    Raises:
        NotFound: no such study, or an adviser that is not there.
        BadUse: a study that is to advise itself.
        BadInput: an adviser with too few trials or with no setting in common.
    """
    with store.writing():
        state = fold(store.events(name))
        event = chosen(store, state, names, stamp)
        if event is not None:
            store.append(name, event)
            state = state.after(event)
    remark = not_kept(stamp, written=event is not None)
    return {**advisers_of(store, name), "changed": event is not None, "remark": remark}


def advisers_of(store: Store, name: str) -> View:
    """The advisers of a study and what they count for.

    Raises:
        NotFound: no such study.
    """
    study = fold(store.events(name)).study
    return {"study": name, **advised_view(study, advisers_view(study))}


def advisers_view(study: Study) -> list[View]:
    """Each adviser with its weight and what of it was ignored."""
    return [{**asdict(adviser), "ignored": list(adviser.ignored)} for adviser in weigh_advisers(study)]


def advised_view(study: Study, advisers: Sequence[View]) -> View:
    """The advisers, and in words what they count for."""
    weights = {adviser["study"]: adviser["weight"] for adviser in advisers}
    return {"advisers": advisers, "advisers_shown": weights_in_words(study, weights)}


def chosen(store: Store, state: StudyState, names: Sequence[str], stamp: Stamp) -> Event | None:
    """The event by which these studies become the advisers, None when they are so already.

    Raises:
        NotFound, BadUse, BadInput: an adviser that cannot be one.
    """
    name = state.sheet.name
    if name in names:
        raise BadUse(f"The study {name} cannot advise itself.", "Name an earlier study; optimiser studies lists them.")
    snapshots = [_snapshot(fold(store.events(adviser)).study) for adviser in dict.fromkeys(names)]
    study = replace(state.study, advisers=tuple(study_from_json(snapshot) for snapshot in snapshots))
    for refusal in refusals(study):
        raise BadInput(f"{refusal}.", "Leave it out, or name another study; optimiser studies lists them.")
    if study.advisers == state.study.advisers:
        return None
    body = {"advisers": snapshots}
    return Event("advisers chosen", body, stamp.iso(), stamp.actor, stamp.reason, stamp.key)


def _snapshot(study: Study) -> dict[str, Any]:
    """What a replay needs of an adviser: its sheet and the trials that were made."""
    return study_to_json(replace(study, trials=study.in_state("measured", "failed"), advisers=()))
