"""What terminal and service show of a study, as JSON values."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from typing import Any, Final

from optimiser.proposals import (
    Recommendation,
    advice_in_words,
    handling_minutes,
    made_in_words,
    minutes_left,
    near_in_words,
    outlook,
    shift_in_words,
)
from optimiser.space import changes_in_words
from optimiser.study import Study, StudyState, Trial, parts_as_scored
from optimiser.workflow.dry_reels import dry_in_words
from optimiser.workflow.proof_reels import is_left_out

View = dict[str, Any]

_BEHIND: Final = ("outlook", "advisers", "inputs", "installed", "first")
"""What is kept of a proposal beside what is shown of it."""


def trial_view(state: StudyState, trial: Trial) -> View:
    """One trial with everything that is kept of it."""
    study = state.study
    space = study.sheet.space
    number = trial.number or 0
    scored = study.overall(trial)
    band = study.sheet.reading
    details = state.details.get(number, {})
    return {
        "study": study.sheet.name,
        "trial": number,
        "state": trial.state,
        "day": trial.day,
        "settings": dict(trial.settings),
        "shown": space.show(trial.settings),
        "outside": [*_unread(state, trial), *space.outside(trial.settings)],
        "asked": dict(state.asked[number]) if number in state.asked else None,
        "overall": scored[0] if scored else None,
        "overall_se": scored[1] if scored else None,
        **{
            name: getattr(trial, name)
            for name in ("match", "match_se", "goal", "goal_se", "articulation", "articulation_kept", "reading", "ear")
        },
        "by_reading": study.reading_in_words if scored else "",
        "reading_verdict": band.verdict(trial.reading) if band and trial.reading is not None else "",
        "asks_again": bool(band and trial.reading is not None and band.asks_again(trial.reading)),
        "note": trial.note,
        "recordings": "capture" in details,
        "heard": dict(zip(("correct", "tries"), state.heard[number], strict=True)) if number in state.heard else None,
        "parts": parts_as_scored(state.trials.get(number, trial), details, study.sheet.match_weights),
        **{name: details.get(name, []) for name in ("advice", "sweep")},
        "warnings": [*details.get("warnings", []), *_slips(state, number), *_left_out(state, number)],
    }


def _unread(state: StudyState, trial: Trial) -> list[str]:
    """Settings that a trial has and the sheet cannot read any more."""
    kept = state.trials.get(trial.number or 0, trial).settings
    return [name for name in kept if name not in trial.settings]


def _slips(state: StudyState, number: int) -> Iterator[str]:
    """What looks as if a wrong file was handed over."""
    details = state.details.get(number, {})
    recordings = {part: details.get(part) for part in ("reference", "capture")}
    if any(recordings.values()):
        yield from dry_in_words({**recordings, "goal reference": state.goal})
    reference, capture = (_sum(state, number, name) for name in ("reference", "capture"))
    if capture is None:
        return
    if reference == capture:
        yield "Reference and capture are the same file, so nothing was compared."
    others = [trial.number or 0 for trial in state.study.in_state("measured")]
    twins = [str(other) for other in others if other != number and _sum(state, other, "capture") == capture]
    if twins:
        yield (
            f"The capture is the very file of trial {' and '.join(twins)}. If that is a slip, strike the wrong trial "
            "out and hand over its own recordings."
        )


def _left_out(state: StudyState, number: int) -> Iterator[str]:
    """That a take was not held against the goal reference, and what to do about it."""
    if is_left_out(state, number):
        made = state.proof_reels.get(state.details[number]["reel"])
        which = f"the proof reel of {made['seconds']:.1f} s" if made else "the proof reel of this take"
        yield (
            "The goal reference is of another proof reel than this take, so the goal part is left out and predicted "
            f"from other trials. Record the goal reference again, with {which}."
        )


def _sum(state: StudyState, number: int, name: str) -> str | None:
    kept = state.details.get(number, {}).get(name) or {}
    return kept.get("sha256")


def proposals_view(state: StudyState, numbers: Sequence[int]) -> list[View]:
    """Proposals that are followed one after the other, each with what changes from the one before."""
    return [_proposal(state, number, before) for number, before in zip(numbers, [None, *numbers], strict=False)]


def _proposal(state: StudyState, number: int, before: int | None) -> View:
    """A proposal as it was handed out, with what changes from now, or from trial `before` where that comes first."""
    proposal = {name: entry for name, entry in state.proposals[number].items() if name not in _BEHIND}
    space = state.study.sheet.space
    settings = state.study.trial(number).settings
    present = state.present() if before is None else state.study.trial(before)
    easier = proposal.get("runner_up")
    if easier and present:
        proposal["runner_up"] = {
            **easier,
            "changes": changes_in_words(space, present.settings, easier["settings"]),
            "effort_minutes": handling_minutes(space, present.settings, easier["settings"]),
        }
    return {
        **proposal,
        "effort_minutes": handling_minutes(space, present.settings if present else None, settings),
        "accepted": accepted_in_words(state.study),
        "held": sorted(locks_of(state, number)),
        "shown": space.show(settings),
        "changes": changes_in_words(space, present.settings, settings) if present else "",
        "since_trial": present.number if present else None,
    }


def accepted_in_words(study: Study) -> str | None:
    """Which reading is accepted; None where the sheet knows of no reading."""
    band = study.sheet.reading
    return band.accepted if band else None


def locks_of(state: StudyState, number: int) -> dict[str, Any]:
    """Settings that the practitioner asked to be kept in a proposal, with their values."""
    inputs = state.proposals[number].get("inputs", {}) if number in state.proposals else {}
    for_time = inputs.get("held_for_time", ())
    return {name: value for name, value in (inputs.get("locked") or {}).items() if name not in for_time}


def outlook_view(study: Study) -> View:
    """The outlook's figures by name; they are None while nothing is scored."""
    if any(study.overall(trial) is not None for trial in study.in_state("measured")):
        ahead = outlook(study)
        days = [{**asdict(day), "shown": shift_in_words(day)} for day in ahead.days]
        return outlook_in_words({**asdict(ahead), "days": days})
    unknown = dict.fromkeys(("gain_left", "chance_near_best", "eps"))
    nothing: View = {"covered": 0, "checked": 0, "doubted": [], "days": []}
    return outlook_in_words({**unknown, "advice": "go on", "minutes_left": minutes_left(study), **nothing})


def outlook_in_words(figures: Mapping[str, Any]) -> View:
    """An outlook's figures, those told earlier too, with what they say."""
    eps = figures["eps"]
    near = "" if eps is None else near_in_words(eps)
    return {**figures, "advice_shown": advice_in_words(figures["advice"]), "near_shown": near}


def recommended_view(study: Study, kept: Recommendation) -> View:
    """What to keep now, and whether it was ever made."""
    return {**asdict(kept), "shown": study.sheet.space.show(kept.settings), "made_shown": made_in_words(kept.trial)}
