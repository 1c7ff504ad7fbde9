"""Weights of the match score that follow from a study's ear ratings; the study is not changed."""

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any, Final

import tomli_w

from optimiser.errors import BadInput
from optimiser.scoring import (
    HOW_TO_RATE,
    MEASURE_VERSION,
    SHIPPED_WEIGHTS,
    EarFit,
    Rated,
    chance_of_guessing,
    fit_weights,
    rated_by_blind_test,
)
from optimiser.storage import Store
from optimiser.study import StudyState, Trial, fold, steps_of, why_kept
from optimiser.units import INTERVAL_SDS
from optimiser.workflow.views import View

POINTS_PER_RATING: Final = 10.0
"""Points of a score for one step of the ear rating, so that both scales end alike."""

_DIGITS: Final = 3

BlindTests = Mapping[int, tuple[int, int]]


def weights_by_ear(store: Store, name: str, blind_tests: BlindTests = MappingProxyType({})) -> View:
    """Weights fitted to the ear ratings, how well they predict them beside the shipped ones, and how to use them.

    Args:
        store: where the study is.
        name: of the study.
        blind_tests: right answers and all answers of a blind test of reference and capture, by trial; they stand in
            for those that were made in the service.

    Raises:
        NotFound: no such study.
        BadInput: too few trials with both recordings and an ear rating or a blind test, a blind test of a trial
            without recordings, answers that cannot be.
    """
    state = fold(store.events(name))
    blind_tests = {**_heard(state), **blind_tests}
    rated, other_version = _rated(state, blind_tests)
    try:
        fit = fit_weights(rated)
    except BadInput as few:
        how = "Rate with --ear when you hand over a take, or give blind tests with --blind."
        raise BadInput(few.message, " ".join([few.hint, how, *other_version])) from None
    fitted = {part: round(getattr(fit.weights, part), _DIGITS) for part in vars(fit.weights)}
    in_use = state.sheet.match_weights or SHIPPED_WEIGHTS
    return {
        "study": name,
        "pairs": fit.pairs,
        "parts": [
            {"part": part, "shipped": shipped, "in_use": getattr(in_use, part), "fitted": fitted[part]}
            for part, shipped in vars(SHIPPED_WEIGHTS).items()
        ],
        "blind_tests": [
            {
                "trial": trial,
                "correct": correct,
                "tries": tries,
                "chance_of_guessing": chance_of_guessing(correct, tries),
            }
            for trial, (correct, tries) in sorted(blind_tests.items())
        ],
        "own_weights": state.sheet.match_weights is not None,
        "fitted": {"rms": fit.rms, "rank_correlation": fit.rank_correlation},
        "shipped": {"rms": fit.shipped_rms, "rank_correlation": fit.shipped_rank_correlation},
        "mean_rating": {"rms": fit.plain_rms},
        "gain": fit.gain,
        "gain_se": fit.gain_se,
        "better": fit.better,
        "verdict": _verdict(fit),
        "remarks": [*_doubts(fit), *other_version, *_kept_scores(state)],
        "how_to_rate": list(HOW_TO_RATE),
        "toml": tomli_w.dumps({"match": {"weights": fitted}}),
    }


def _heard(state: StudyState) -> BlindTests:
    """Finished blind tests of trials that still count and whose recordings were measured."""
    measured = [trial.number or 0 for trial in state.study.in_state("measured")]
    return {number: state.heard[number] for number in measured if number in state.heard and _steps(state, number)}


def _steps(state: StudyState, number: int) -> dict[str, float] | None:
    return steps_of(dict(state.details.get(number, {})))


def _rated(state: StudyState, blind_tests: BlindTests) -> tuple[list[Rated], list[str]]:
    """Every trial that was measured and listened to, and a remark on those of another version of the measure."""
    rated, others, unheard = [], [], set(blind_tests)
    for trial in state.study.in_state("measured"):
        number = trial.number or 0
        details: dict[str, Any] = dict(state.details.get(number, {}))
        steps = steps_of(details)
        if steps is None or (trial.ear is None and number not in blind_tests):
            continue
        unheard.discard(number)
        if details.get("measure_version") != MEASURE_VERSION:
            others.append(trial)
            continue
        if trial.ear is not None:
            rated.append(Rated(steps, POINTS_PER_RATING * trial.ear))
        if number in blind_tests:
            rated.append(rated_by_blind_test(steps, *blind_tests[number]))
    if unheard:
        raise BadInput(
            f"Trial {min(unheard)} has no two recordings that a blind test could be of.", "Name a trial with a take."
        )
    left_out = f"{_named(others)} left out: another version of the measure took the steps." if others else ""
    return rated, [left_out] if left_out else []


def _verdict(fit: EarFit) -> str:
    if not fit.better:
        return "The fitted weights do not predict your ears better than the shipped ones; keep those."
    gain = f"{fit.gain:.1f} +-{INTERVAL_SDS * fit.gain_se:.1f} points"
    return f"The fitted weights predict your ears better than the shipped ones, by {gain}."


def _doubts(fit: EarFit) -> list[str]:
    doubts = [fit.warning] if fit.warning else []
    if fit.plain_rms <= min(fit.rms, fit.shipped_rms):
        doubts.append("Your mean rating alone predicts your ratings better than either.")
    return doubts


def _kept_scores(state: StudyState) -> list[str]:
    """Which trials stay as they were scored under any weights, and why."""
    reasons: dict[tuple[str, str], list[Trial]] = {}
    for trial in state.study.in_state("measured"):
        number = trial.number or 0
        for score in ("match", "goal"):
            why = why_kept(state.trials[number], state.details.get(number, {}), score)
            if why:
                reasons.setdefault((score, why), []).append(trial)
    return [
        f"{_named(trials)} will keep the {score} score as stored, whatever the weights: {why}."
        for (score, why), trials in reasons.items()
    ]


def _named(trials: Iterable[Trial]) -> str:
    numbers = [str(trial.number) for trial in trials]
    return f"Trial{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}"
