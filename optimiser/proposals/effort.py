"""What it costs to get from one arrangement to another, and how much that weighs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from optimiser.space import Settings, SettingsSpace, Value
from optimiser.study import Study
from optimiser.surrogate import Array

SHORTEST_TRIAL: Final = 0.1
"""Minutes; no trial counts as shorter (a choice, no source)."""

TIMED_BEFOREHAND: Final = 3
"""The sheet's minutes for a trial count as much as so many timed trials (a choice, no source)."""

EXACT_WALK: Final = 12
"""Up to so many settings the shortest walk is found exactly (12 x 4096 walks that are left; a choice, no source)."""

SAME_LENGTH: Final = 1e-9
"""Minutes; walks that differ by no more are of one length."""


def handling_minutes(space: SettingsSpace, present: Mapping[str, Value] | None, wanted: Mapping[str, Value]) -> float:
    """Minutes of hands on the chain: the sum over settings that exist and stand otherwise.

    When the present settings are not known everything has to be set.
    """
    return sum(
        space.by_name[name].effort_minutes for name, value in wanted.items() if (present or {}).get(name) != value
    )


def trial_minutes(study: Study) -> float:
    """Minutes that one trial takes without handling, from the sheet and from the trials that were timed.

    What the sheet says counts as much as TIMED_BEFOREHAND trials; it alone counts while none was timed.
    """
    made = study.in_state("measured", "failed")
    before = [None, *(trial.settings for trial in made[:-1])]
    timed = [
        max(SHORTEST_TRIAL, trial.minutes - _handled(study, stood, trial.settings))
        for stood, trial in zip(before, made, strict=False)
        if trial.minutes is not None
    ]
    told = max(study.sheet.minutes_per_trial, SHORTEST_TRIAL)
    return (TIMED_BEFOREHAND * told + sum(timed)) / (TIMED_BEFOREHAND + len(timed))


def _handled(study: Study, stood: Mapping[str, Value] | None, settings: Mapping[str, Value]) -> float:
    """Minutes of handling before a trial, none known before the first."""
    return 0.0 if stood is None else handling_minutes(study.sheet.space, stood, settings)


@dataclass(frozen=True)
class Pace:
    """What trials cost in minutes, and how much that weighs.

    Attributes:
        space: what may be set.
        each: minutes of one trial without handling.
        exponent: a in gain / minutes^a.
    """

    space: SettingsSpace
    each: float
    exponent: float

    def minutes(self, present: Mapping[str, Value] | None, many: Sequence[Settings]) -> Array:
        """Minutes for a trial at each arrangement from where the chain stands, shape (m,)."""
        return self.each + np.array([handling_minutes(self.space, present, settings) for settings in many])

    def priced(self, log_gain: Array, present: Mapping[str, Value] | None, many: Sequence[Settings]) -> Array:
        """Log of gain / minutes^a for each arrangement, shape (m,)."""
        return priced(log_gain, self.minutes(present, many), self.exponent) if self.exponent > 0.0 else log_gain


def pace_of(study: Study) -> Pace:
    """What trials of a study cost now."""
    return Pace(study.sheet.space, trial_minutes(study), cooling(study))


def priced(log_gain: Array, minutes: Array, exponent: float) -> Array:
    """Log of gain / minutes^exponent [Lee2020]."""
    return log_gain - exponent * np.log(minutes)


def cooling(study: Study) -> float:
    """Exponent a of gain / minutes^a: the policy's at first, falling to 0 at the planned end [Lee2020]."""
    made = len(study.in_state("measured", "failed", "waiting"))
    left = max(0.0, 1.0 - made / study.sheet.trials_planned)
    return study.sheet.policy.effort_weight * left


def shortest_walk(space: SettingsSpace, present: Mapping[str, Value] | None, stops: Sequence[Settings]) -> list[int]:
    """Indices of `stops` in the order that takes the least handling, starting from the present settings.

    Exact for up to 12 stops [Held1962]; beyond, by always going to the nearest next one, never longer than as given.
    Of several shortest walks the one that keeps most to the order given.
    """
    between = np.array([[handling_minutes(space, a, b) for b in stops] for a in stops])
    first = np.array([handling_minutes(space, present, stop) if present else 0.0 for stop in stops])
    if len(stops) < 2:
        return list(range(len(stops)))
    return _exact_walk(first, between) if len(stops) <= EXACT_WALK else _near_walk(first, between)


def walk_minutes(space: SettingsSpace, present: Mapping[str, Value] | None, stops: Sequence[Settings]) -> float:
    """Minutes of handling on a walk through stops in the order given."""
    return sum(handling_minutes(space, here, stop) for here, stop in zip([present, *stops], stops, strict=False))


def minutes_left(study: Study) -> float:
    """Minutes until the planned number of trials is made, handling included.

    Trials that wait take what the shortest walk through them takes, others as much handling as trials did so far.
    """
    space, present = study.sheet.space, study.present()
    left = max(0, study.sheet.trials_planned - len(study.in_state("measured", "failed")))
    stops = [dict(trial.settings) for trial in study.in_state("waiting")[:left]]
    stands = None if present is None else dict(present.settings)
    walk = [stops[place] for place in shortest_walk(space, stands, stops)]
    handling = walk_minutes(space, stands, walk) + (left - len(stops)) * _usual_handling(study)
    return left * trial_minutes(study) + handling


def _usual_handling(study: Study) -> float:
    """Minutes of handling between trials, on average over those made; all that can be set before there are two."""
    made = study.in_state("measured", "failed")
    between = [_handled(study, a.settings, b.settings) for a, b in pairwise(made)]
    return float(np.mean(between)) if between else sum(one.effort_minutes for one in study.sheet.space.settings)


def _exact_walk(first: Array, between: Array) -> list[int]:
    """What is left of the shortest walk from each stop, for every set of stops already made; then walked forwards."""
    count = len(first)
    left = np.zeros((1 << count, count))
    for made in range((1 << count) - 2, 0, -1):
        ahead = [stop for stop in range(count) if not made >> stop & 1]
        onwards = [left[made | 1 << stop, stop] for stop in ahead]
        left[made] = np.min(between[:, ahead] + onwards, axis=1)
    walk, made, onward = list[int](), 0, first
    while len(walk) < count:
        ahead = [stop for stop in range(count) if not made >> stop & 1]
        lengths = np.array([onward[stop] + left[made | 1 << stop, stop] for stop in ahead])
        walk.append(ahead[int(np.argmax(lengths <= lengths.min() + SAME_LENGTH))])
        made, onward = made | 1 << walk[-1], between[walk[-1]]
    return walk


def _near_walk(first: Array, between: Array) -> list[int]:
    given = list(range(len(first)))
    walk = [int(np.argmin(first))]
    while len(walk) < len(given):
        walk.append(min(set(given) - set(walk), key=lambda stop: (between[walk[-1], stop], stop)))

    def length(stations: list[int]) -> float:
        return float(first[stations[0]] + sum(between[a, b] for a, b in pairwise(stations)))

    return min(given, walk, key=length)
