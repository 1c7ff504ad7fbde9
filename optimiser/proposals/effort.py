"""What it costs to get from one arrangement to another, and how much that weighs."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise, permutations
from typing import Final

import numpy as np

from optimiser.space import Settings, SettingsSpace, Value
from optimiser.study import Study
from optimiser.surrogate import Array

SHORTEST_TRIAL: Final = 0.1
"""Minutes; no trial counts as shorter (a choice, no source)."""

TIMED_BEFOREHAND: Final = 3
"""The sheet's minutes for a trial count as much as so many timed trials (a choice, no source)."""

EXACT_WALK: Final = 7
"""Up to so many settings the shortest walk is found by trying every order (5040 walks)."""


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

    Found exactly for up to 7 stops, by always going to the nearest next one beyond; never longer than as given.
    """
    cost = [[handling_minutes(space, a, b) for b in stops] for a in stops]
    first = [handling_minutes(space, present, stop) if present else 0.0 for stop in stops]

    def length(walk: Iterable[int]) -> float:
        stations = list(walk)
        return first[stations[0]] + sum(cost[a][b] for a, b in pairwise(stations))

    given = list(range(len(stops)))
    if len(stops) < 2:
        return given
    if len(stops) <= EXACT_WALK:
        return list(min(permutations(given), key=length))
    walk = [min(given, key=lambda stop: first[stop])]
    while len(walk) < len(stops):
        walk.append(min(set(given) - set(walk), key=lambda stop: (cost[walk[-1]][stop], stop)))
    return min(given, walk, key=length)
