"""What each day of a study reads high or low by."""

from optimiser.proposals.belief import Belief
from optimiser.proposals.proposal import DayShift
from optimiser.units import INTERVAL_SDS


def day_shifts(belief: Belief) -> tuple[DayShift, ...]:
    """One for each day with a score, in their order; none while all of them are of one day."""
    shifts = belief.overall.day_shifts()
    if shifts is None:
        return ()
    evidence = belief.evidence
    tried = [belief.space.key(settings) for settings in evidence.settings]
    told = []
    for place, (date, shift, error) in enumerate(zip(evidence.dates, *shifts, strict=True)):
        here = {key for key, day in zip(tried, evidence.days, strict=True) if day == place}
        elsewhere = {key for key, day in zip(tried, evidence.days, strict=True) if day != place}
        count = sum(day == place for day in evidence.days)
        told.append(DayShift(date, float(shift), float(error), count, not here.isdisjoint(elsewhere)))
    return tuple(told)


def shift_in_words(day: DayShift) -> str:
    """As in `0.8 low +-0.5`, and whether all of it rests on one trial."""
    size = f"{abs(day.shift):.1f}"
    side = "as the others" if size == "0.0" else f"{size} {'high' if day.shift > 0 else 'low'}"
    alone = ", by one trial alone" if day.trials == 1 else ""
    return f"{side} +-{INTERVAL_SDS * day.shift_se:.1f}{alone}"
