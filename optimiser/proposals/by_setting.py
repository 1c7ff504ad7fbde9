"""How much of what a proposal promises, and of the doubt about it, comes from each setting that changes."""

from collections.abc import Mapping
from itertools import pairwise, permutations
from typing import Final

import numpy as np

from optimiser.proposals.belief import Belief
from optimiser.proposals.proposal import Portion
from optimiser.space import Settings, Value

EXACT_WALKS: Final = 5
"""Up to so many changes every order of making them is looked at (120 orders)."""

WALKS: Final = 120
"""Orders drawn for more changes than that (a choice, no source)."""


def by_setting(belief: Belief, before: Mapping[str, Value], after: Settings) -> dict[str, Portion]:
    """Shapley values of the changes from one arrangement to another, one for each setting of either.

    A change's value is what it moves when it is made, averaged over the orders in which all changes can be made
    [Owen2014]. They add up to the difference between both arrangements; a setting that stands as before brings nothing.
    """
    names = list(dict.fromkeys([*after, *before]))
    changed = [name for name in names if before.get(name) != after.get(name)]
    walks = _walks(len(changed))
    stations = list({frozenset(walk[:made]) for walk in walks for made in range(len(changed) + 1)})
    mixed = [_mixed(before, after, {changed[place] for place in station}) for station in stations]
    figures = np.stack(belief.told(mixed), axis=1)
    known = dict(zip(stations, figures, strict=True))
    moved = np.zeros((len(changed), 2))
    for walk in walks:
        for made, (earlier, later) in enumerate(pairwise(frozenset(walk[:n]) for n in range(len(walk) + 1))):
            moved[walk[made]] += (known[later] - known[earlier]) / len(walks)
    portions = {name: Portion(float(gain), float(doubt)) for name, (gain, doubt) in zip(changed, moved, strict=True)}
    return {name: portions.get(name, Portion(0.0, 0.0)) for name in names}


def _walks(count: int) -> list[tuple[int, ...]]:
    if count <= EXACT_WALKS:
        return list(permutations(range(count)))
    rng = np.random.default_rng(count)
    return [tuple(rng.permutation(count).tolist()) for _ in range(WALKS)]


def _mixed(before: Mapping[str, Value], after: Settings, made: set[str]) -> Settings:
    """The arrangement after some changes."""
    kept = {name: value for name, value in before.items() if name not in made}
    return kept | {name: value for name, value in after.items() if name in made}
