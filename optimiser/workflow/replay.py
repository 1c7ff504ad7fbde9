"""A proposal made again from the state of the study at that time, and held against the one that was handed out."""

from collections.abc import Mapping
from typing import Any, Final

from optimiser.errors import NotFound
from optimiser.storage import Store
from optimiser.study import canonical_json, fold
from optimiser.workflow.proposing import installed, proposal_body, proposed_from
from optimiser.workflow.views import View

_WORDS: Final = ("reason",)
"""Entries that only say in words what the others say; a later version may put them otherwise."""


def replayed(store: Store, name: str, trial: int) -> View:
    """Make the proposal behind a trial again: the same to the bit, or the stored one with the reason why not.

    Raises:
        NotFound: no such study, or a trial that nobody proposed.
    """
    events = store.events(name)
    state = fold(events)
    if trial not in state.proposals:
        state.study.trial(trial)
        raise NotFound(f"Trial {trial} of {name} was not proposed.", "It was the practitioner's own choice.")
    known = state.trials.get(trial)
    stored = state.proposals[trial]
    first = next(e for e in events if e.kind == "proposed" and e.trial == stored.get("first", trial))
    before = fold([event for event in events if event.number < first.number])
    space = before.sheet.space
    shown = space.show(stored["settings"])
    view = {
        "study": name,
        "trial": trial,
        "state": known.state if known else "withdrawn",
        "stored": _told(stored),
        "shown": shown,
    }
    if "inputs" not in stored:
        why = "what it was made from was not kept then"
        return {**view, "same": None, "again": None, "again_shown": None, "differs": [], "reason": why}
    made = proposed_from(before.study, stored["inputs"])[trial - stored["first"]]
    again = proposal_body(trial, made)
    entries = [entry for entry in again if entry not in _WORDS]
    differs = [entry for entry in entries if canonical_json(again[entry]) != canonical_json(stored.get(entry))]
    return {
        **view,
        "same": not differs,
        "again": again if differs else None,
        "again_shown": space.show(made.settings) if differs else None,
        "differs": differs,
        "reason": _reason(stored["installed"]) if differs else "",
    }


def _told(stored: Mapping[str, Any]) -> View:
    return {entry: value for entry, value in stored.items() if entry not in ("outlook", "advisers", "inputs", "first")}


def _reason(then: Mapping[str, str]) -> str:
    """What is installed otherwise now than when a proposal was made."""
    now = installed()
    names = sorted({*then, *now})
    changed = [f"{n} {then.get(n, 'none')} then, {now.get(n, 'none')} now" for n in names if then.get(n) != now.get(n)]
    return "; ".join(changed) or "everything installed is the same; another processor may round otherwise"
