"""Scores with what their day reads high or low by taken off, and the highest of them."""

from collections.abc import Mapping

from optimiser.proposals import believe, day_shifts
from optimiser.study import Study, Trial


def _has_one_day(study: Study) -> bool:
    """Whether all scores are of one day, so that there is nothing to take off."""
    return len({trial.day for trial in study.in_state("measured") if study.overall(trial) is not None}) < 2


def levels_of(study: Study) -> Mapping[int, float]:
    """For every measured trial with an overall score, that score without what its day reads high, by its number."""
    belief = None if _has_one_day(study) else believe(study)
    shifts = {day.day: day.shift for day in day_shifts(belief)} if belief else {}
    scores = scores_of(study)
    return {number: score - shifts.get(study.trial(number).day or "", 0.0) for number, score in scores.items()}


def scores_of(study: Study) -> Mapping[int, float]:
    """The overall score of every measured trial that has one, by its number."""
    scored = ((trial, study.overall(trial)) for trial in study.in_state("measured"))
    return {trial.number or 0: overall[0] for trial, overall in scored if overall is not None}


def highest_measured(study: Study) -> tuple[Trial, float] | None:
    """The trial with the highest score as it was measured, whatever its day; None while nothing is scored."""
    known = [(study.trial(number), score) for number, score in scores_of(study).items()]
    return max(known, key=lambda one: one[1], default=None)


def highest_of(study: Study) -> tuple[Trial, float] | None:
    """The trial whose score is highest once days are taken off, and that score; None while nothing is scored."""
    levels = levels_of(study)
    if not levels:
        return None
    number = max(levels, key=lambda one: levels[one])
    return study.trial(number), levels[number]
