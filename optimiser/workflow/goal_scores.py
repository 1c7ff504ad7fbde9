"""Takes that were made before a goal reference was recorded, held against it afterwards."""

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from optimiser.errors import NotFound
from optimiser.storage import Store
from optimiser.study import Event, StudyState
from optimiser.workflow.measuring import measure_pair
from optimiser.workflow.proof_reels import layout_of, reel_of_take, wanted_for
from optimiser.workflow.stamp import Stamp

MEANWHILE: Final = "scored against the goal reference that was recorded meanwhile"
"""Reason of the amendment that lets a trial catch up with the goal reference."""


def path_of_goal(store: Store, study: str, goal: Mapping[str, Any]) -> Path:
    """Where a goal reference lies.

    Raises:
        NotFound: its recording is not in the store, as of a study that came from another one.
    """
    try:
        return store.audio.path(goal["sha256"])
    except NotFound:
        raise NotFound(
            f"The goal reference {goal.get('name', '')} of {study} is not in this store.",
            f"Hand it over again: optimiser goal {study} FILE.wav",
        ) from None


def scored_against(
    store: Store, state: StudyState, number: int, goal: Mapping[str, Any], reel: str | None
) -> dict[str, Any]:
    """What changes in a trial when its take, of that reel, is held against a goal reference: the body of an amendment.

    Raises:
        NotFound: a recording that the store does not have.
        InvalidRecording: one that cannot be measured.
    """
    details = state.details[number]
    parts = [store.audio.path(details[part]["sha256"]) for part in ("reference", "capture")]
    layout = layout_of(state, reel or goal.get("reel"))
    measured = measure_pair(parts[0], parts[1], store.audio.path(goal["sha256"]), layout)[0]
    changes = {part: getattr(measured, part) for part in ("goal", "goal_se", "articulation_kept")}
    steps = {part: asdict(measured)[part] for part in ("goal_parts", "goal_parts_without")}
    return {"trial": number, "changes": changes, "details": {**steps, "goal": dict(goal)}}


def caught_up(store: Store, state: StudyState, number: int, stamp: Stamp) -> Event | None:
    """The event by which a trial gets the score that it missed while it counted for nothing; None where it missed none.

    Raises:
        NotFound: a recording that the store does not have.
        InvalidRecording: one that cannot be measured.
    """
    details = state.details.get(number, {})
    if "capture" not in details or state.goal is None:
        return None
    reel = reel_of_take(store, state, details)
    wanted = wanted_for(store, state, reel)
    known = details.get("goal") or {}
    if wanted is None or not wanted.same_reel or known.get("sha256") == wanted.kept["sha256"]:
        return None
    body = scored_against(store, state, number, wanted.kept, reel)
    return Event("amended", body, stamp.iso(), stamp.actor, MEANWHILE)
