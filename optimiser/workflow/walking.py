"""Trials that wait, in the order in which hands get through them quickest, and the time they take."""

from collections.abc import Iterable, Sequence

from optimiser.proposals import shortest_walk, trial_minutes, walk_minutes
from optimiser.space import Settings
from optimiser.study import StudyState


def waiting(state: StudyState) -> list[int]:
    """Numbers of the trials that wait, on the shortest walk through them."""
    return walked(state, (trial.number or 0 for trial in state.study.in_state("waiting")))


def walked(state: StudyState, numbers: Iterable[int]) -> list[int]:
    """Trials in the order that takes the least handling from where the chain stands; check trials come first."""
    given = sorted(numbers)
    checks = [number for number in given if state.proposals.get(number, {}).get("kind") == "check"]
    rest = [number for number in given if number not in checks]
    stands = _stops(state, checks)[-1] if checks else standing(state)
    walk = shortest_walk(state.study.sheet.space, stands, _stops(state, rest))
    return [*checks, *(rest[place] for place in walk)]


def minutes_of(state: StudyState, numbers: Sequence[int]) -> float:
    """Minutes that trials take one after the other, handling included."""
    handling = walk_minutes(state.study.sheet.space, standing(state), _stops(state, numbers))
    return len(numbers) * trial_minutes(state.study) + handling


def fitting(state: StudyState, numbers: Sequence[int], minutes: float) -> list[int]:
    """Those that fit into the time one after the other, in the order given; one that takes too long is left out."""
    kept = list[int]()
    for number in numbers:
        if minutes_of(state, [*kept, number]) <= minutes:
            kept.append(number)
    return kept


def standing(state: StudyState) -> Settings | None:
    """How the chain stands: as for the trial made last; None while none was made."""
    present = state.present()
    return dict(present.settings) if present else None


def _stops(state: StudyState, numbers: Sequence[int]) -> list[Settings]:
    return [dict(state.study.trial(number).settings) for number in numbers]
