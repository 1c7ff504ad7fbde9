"""What it costs to get from one arrangement to another, and how much that weighs."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise, permutations
from typing import Final

from optimiser.space import Settings, SettingsSpace, Value
from optimiser.study import Study

EXACT_WALK: Final = 7
"""Up to so many settings the shortest walk is found by trying every order (5040 walks)."""


def handling_minutes(space: SettingsSpace, present: Mapping[str, Value] | None, wanted: Mapping[str, Value]) -> float:
    """Minutes of hands on the chain: the sum over settings that exist and stand otherwise.

    When the present settings are not known everything has to be set.
    """
    return sum(
        space.by_name[name].effort_minutes for name, value in wanted.items() if (present or {}).get(name) != value
    )


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
