"""Which proof reel a recording is of, and which goal reference it may be held against.

A capture is scored against a goal reference of the same reel and no other: two reels share riffs, so the two would be
laid over each other and found to differ in all that follows.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from optimiser.audio import open_recording
from optimiser.errors import InvalidRecording, NotFound
from optimiser.scoring import Passage, ReelLayout, followed
from optimiser.space import RiffOrder
from optimiser.storage import Store
from optimiser.study import StudyState, goes_with

CUT_S: Final = 1.0
"""Seconds by which a recording may be shorter than its reel: a reel ends with a second of rest (`optimiser/audio`)."""


@dataclass(frozen=True)
class Wanted:
    """A goal reference as it concerns one take.

    Attributes:
        kept: what the store knows of it.
        layout: where riffs lie in it, None where no reel was made for the study.
        same_reel: whether the take is of the same reel. Of another one only its articulation is held against the
            take's, which hardly hangs on the riffs.
    """

    kept: Mapping[str, Any]
    layout: ReelLayout | None
    same_reel: bool


def layout_from_json(entries: Mapping[str, Any]) -> ReelLayout:
    """The layout that is kept of a reel."""
    return ReelLayout(tuple(Passage(**passage) for passage in entries["passages"]))


def layout_of(state: StudyState, reel: str | None) -> ReelLayout | None:
    """The layout of a proof reel, of the newest one where it is not known, None where none was made."""
    made = state.proof_reels.get(reel or "") or state.reels.get("proof")
    return None if made is None else layout_from_json(made["layout"])


def riffs_of_proof(state: StudyState) -> tuple[str, ...]:
    """The riffs of a proof reel that is made now, in order: as in the one before, as long as they are the same."""
    from optimiser.rehearsal import LEARNING_RIFFS

    orders = [setting for setting in state.study.sheet.space.settings if isinstance(setting, RiffOrder)]
    wanted = orders[0].riffs if orders else LEARNING_RIFFS
    before = tuple(state.reels.get("proof", {}).get("riffs", ()))
    return before if set(before) == set(wanted) else wanted


def cut_in_words(lasting: Mapping[str, float], layout: ReelLayout | None) -> list[str]:
    """That a recording ends before its reel does, or a capture before its reference: a sentence for each.

    Args:
        lasting: seconds of each recording, by what it is called.
        layout: of the reel, None where none was made.
    """
    wanted = dict.fromkeys(lasting, layout.passages[-1].end_s if layout and layout.passages else 0.0)
    whole = dict.fromkeys(lasting, "the proof reel")
    if "capture" in lasting and lasting.get("reference", 0.0) > wanted["capture"]:
        wanted["capture"], whole["capture"] = lasting["reference"], "its reference"
    return [
        f"The {part} lasts {seconds:.1f} s and {whole[part]} {wanted[part]:.1f} s: what was cut off is not compared, "
        "so no score of it is one of the whole. Record it whole and hand it over again."
        for part, seconds in lasting.items()
        if seconds < wanted[part] - CUT_S
    ]


def reel_of_file(state: StudyState, path: Path) -> str | None:
    """Which of the study's proof reels a recording is of, by its sound where there are several.

    Raises:
        NotFound: no such file.
        InvalidRecording: a file that cannot be measured.
    """
    names = list(state.proof_reels)[::-1]
    if len(names) < 2:
        return names[0] if names else None
    layouts = [layout_from_json(state.proof_reels[name]["layout"]) for name in names]
    place = followed(open_recording(path), layouts)
    return None if place is None else names[place]


def reel_of_kept(store: Store, state: StudyState, sha256: str, written: str | None) -> str | None:
    """Which of them a recording of the store is of: as was written with it, else by its sound."""
    if written in state.proof_reels:
        return written
    try:
        return reel_of_file(state, store.audio.path(sha256))
    except (NotFound, InvalidRecording):
        return None


def reel_of_take(store: Store, state: StudyState, details: Mapping[str, Any]) -> str | None:
    """Which of them a take with these details is of."""
    return reel_of_kept(store, state, details["reference"]["sha256"], details.get("reel"))


def wanted_for(store: Store, state: StudyState, reel: str | None) -> Wanted | None:
    """The newest goal reference of a take's reel, else the newest of all; None while there is none."""
    goals: list[Mapping[str, Any]] = []
    for goal in reversed(state.goals):
        own = reel_of_kept(store, state, goal["sha256"], goal.get("reel"))
        goals.append({**goal, "reel": own} if own else goal)
        if goes_with(goals[-1], reel):
            return Wanted(goals[-1], layout_of(state, own or reel), True)
    return Wanted(goals[0], layout_of(state, goals[0].get("reel")), False) if goals else None


def is_left_out(state: StudyState, number: int) -> bool:
    """Whether a take lacks its goal part because no goal reference is of its reel."""
    details = state.details.get(number, {})
    reel = details.get("reel")
    kept = details.get("goal") or state.trials[number].goal is not None
    counts = state.goals and state.sheet.overall.goal
    return bool(counts and reel and not kept and not any(goal.get("reel") == reel for goal in state.goals))


def goal_again(state: StudyState) -> dict[str, Any] | None:
    """Why the goal reference has to be recorded again, and whether the proof reel has to be written before.

    None where takes of the proof reel, as it is now, will be scored against a goal reference, or where none counts.
    """
    if state.goal is None or not state.proof_reels or not state.sheet.overall.goal:
        return None
    name, made = list(state.proof_reels.items())[-1]
    if tuple(made["riffs"]) != riffs_of_proof(state):
        why = (
            "The sheet's riffs make another proof reel now. Write it and record the goal reference again with it: its "
            "takes lack the goal part until then."
        )
        return {"why": why, "reel_first": True}
    if any(
        goes_with(goal, name) and goal.get("seconds", made["seconds"]) > made["seconds"] - CUT_S for goal in state.goals
    ):
        return None
    why = (
        "The goal reference is of an earlier proof reel. Record it again with the newest, of "
        f"{made['seconds']:.1f} s: its takes lack the goal part until then."
    )
    return {"why": why, "reel_first": False}
