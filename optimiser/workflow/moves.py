"""How scores and recommended settings moved when takes were measured again."""

from collections.abc import Callable, Sequence
from typing import Any

from optimiser.errors import BadInput
from optimiser.proposals import recommend
from optimiser.scoring import MEASURE_VERSION
from optimiser.space import changes_in_words
from optimiser.study import Event, Study, StudyState, fold
from optimiser.workflow.views import View


def moves_of(events: Sequence[Event], tell: Callable[[str], None]) -> View:
    """A study as it would stand without what this version measured again, beside how it stands.

    The comparison spans every run by this version, so that one that was broken off and gone on with is told whole.

    Args:
        events: all of the study's.
        tell: is told what takes a while.
    """
    before, after = fold([event for event in events if not _is_again(event)]), fold(events)
    again = {event.trial or 0 for event in events if _is_again(event)}
    numbers = sorted(n for n in again if after.details[n].get("measure_version") == MEASURE_VERSION)
    moves = sorted((_move(before, after, number) for number in numbers), key=lambda move: -abs(move["moved"] or 0.0))
    tell(f"weighing what {after.sheet.name} would recommend")
    return {"study": after.sheet.name, "moves": moves, "recommended": _recommended(before.study, after.study)}


def _is_again(event: Event) -> bool:
    return event.kind == "remeasured" and event.body["details"].get("measure_version") == MEASURE_VERSION


def _move(before: StudyState, after: StudyState, number: int) -> View:
    scores = {"overall": [_overall(before, number), _overall(after, number)]}
    for name in ("match", "goal"):
        scores[name] = [getattr(state.study.trial(number), name) for state in (before, after)]
    known = [now - was for was, now in scores.values() if was is not None and now is not None]
    return {"trial": number, **scores, "moved": known[0] if known else None}


def _overall(state: StudyState, number: int) -> float | None:
    scored = state.study.overall(state.study.trial(number))
    return scored[0] if scored else None


def _recommended(before: Study, after: Study) -> dict[str, Any] | None:
    """The settings to keep then and now, None while nothing is scored."""
    try:
        was, now = recommend(before), recommend(after)
    except BadInput:
        return None
    space = after.sheet.space
    changed = space.key(was.settings) != space.key(now.settings)
    return {
        "before": space.show(was.settings),
        "after": space.show(now.settings),
        "changed": changed,
        "changes": changes_in_words(space, was.settings, now.settings) if changed else "",
        "expected": [was.expected, now.expected],
    }
