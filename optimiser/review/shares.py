"""What mattered: the share of the overall score's variation owed to each setting, with its uncertainty.

The shares are Shapley effects [Owen2014] over the sheet's ranges, every setting drawn evenly and independently of the
others; they add up to 1. What is not known for sure is the score itself between trials, so they are worked out on draws
of it from the belief, which gives each of them an interval [Marrel2009]. A setting that exists only under a condition
counts through the arrangements in which it exists; arrangements that a sheet forbids count too.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from optimiser.proposals import believe
from optimiser.review.variance_shares import (
    MixDesign,
    interval,
    mix_design,
    paired_evens,
    shapley_effects,
    shares_of_variance,
)
from optimiser.space import Knob, Setting, Settings, SettingsSpace, Value
from optimiser.study import Study, seed_of_made

DESIGNS: Final = 3
"""Independent designs whose shares are pooled, so that the intervals hold the error of sampling points as well."""

POINTS: Final = 600
"""Arrangements of one design at most (own choice: a joint draw takes the square of it in time)."""

DRAWS: Final = 60
"""Draws of the score on each design."""

NARROW: Final = 0.25
"""Width of a 90 % interval up to which a share counts as known whatever it is (own choice, no source)."""

FEW_TRIALS: Final = 2
"""Trials for each setting up to which nothing counts as known, however narrow the interval: it is then the belief's
prior that speaks (own choice, no source)."""

NOT_KNOWN: Final = "not known yet"


class Believed(Protocol):
    """A belief about the overall score without the noise of one trial."""

    def told(self, many: Sequence[Settings]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Means and standard deviations as they are told, shape (len(many),)."""

    def draws(self, many: Sequence[Settings], n: int, seed: int) -> NDArray[np.float64]:
        """Joint draws, shape (n, len(many))."""


@dataclass(frozen=True)
class Share:
    """What one setting mattered.

    Attributes:
        setting: the setting's name.
        share: its part of the overall score's variation over the sheet's ranges, 0 to 1.
        low: lower end of the 90 % interval.
        high: upper end of it.
        verdict: `matters`, `matters little`, `matters its part` or `not known yet`.
    """

    setting: str
    share: float
    low: float
    high: float
    verdict: str


def mattered(study: Study) -> tuple[Share, ...]:
    """What mattered, the most important setting first; the same study gives the same shares.

    Everything is `not known yet` while no overall score is known.
    """
    return shares_of(study, believe(study))


def shares_of(study: Study, belief: Believed | None) -> tuple[Share, ...]:
    """What mattered by a belief that is at hand already; None when there is none."""
    space = study.sheet.space
    names = [setting.name for setting in space.settings]
    if belief is None:
        return tuple(Share(name, 1.0 / len(names), 0.0, 1.0, NOT_KNOWN) for name in names)
    if len(names) == 1:
        return (Share(names[0], 1.0, 1.0, 1.0, "matters"),)
    drawn = _drawn_shares(space, belief, seed_of_made(study))
    shares = [_summed_up(name, column, len(names)) for name, column in zip(names, drawn.T, strict=True)]
    if len(study.in_state("measured")) <= FEW_TRIALS * len(names):
        shares = [replace(share, verdict=NOT_KNOWN) for share in shares]
    return tuple(sorted(shares, key=lambda share: -share.share))


def _summed_up(name: str, drawn: NDArray[np.float64], settings: int) -> Share:
    low, high = interval(drawn)
    share = float(drawn.mean())
    low, high = min(low, share), max(high, share)
    return Share(name, share, low, high, verdict(low, high, settings))


def verdict(low: float, high: float, settings: int) -> str:
    """A share's 90 % interval in words, against the even part that each of the `settings` settings would have."""
    even = 1.0 / settings
    if low > even:
        return "matters"
    if high < even:
        return "matters little"
    return "matters its part" if high - low <= NARROW else NOT_KNOWN


def _drawn_shares(space: SettingsSpace, belief: Believed, seed: int) -> NDArray[np.float64]:
    pooled = []
    for number in range(DESIGNS):
        rng = np.random.default_rng([seed, number])
        design = mix_design(len(space.settings), POINTS, rng)
        many, places = _arrangements(space, design, rng)
        figures = belief.draws(many, DRAWS, int(rng.integers(2**31)))[:, places]
        pooled.append(shares_of_variance(shapley_effects(design, figures)))
    return np.concatenate(pooled)


def _arrangements(
    space: SettingsSpace, design: MixDesign, rng: np.random.Generator
) -> tuple[list[Settings], NDArray[np.intp]]:
    """The design's arrangements, each once, and for every mix the place of its own, shape (pairs, mixes)."""
    columns = [
        spread(setting, evens, rng) for setting, evens in zip(space.settings, paired_evens(design, rng), strict=True)
    ]
    known: dict[tuple[tuple[str, str], ...], int] = {}
    many: list[Settings] = []
    places = np.empty(design.from_second.shape[:2], dtype=np.intp)
    for pair, mix in np.ndindex(*places.shape):
        taken = design.from_second[pair, mix]
        whole = {
            setting.name: columns[index][pair + design.pairs * int(taken[index])]
            for index, setting in enumerate(space.settings)
        }
        settings = space.complete({}, whole)
        key = space.key(settings)
        if key not in known:
            known[key] = len(many)
            many.append(settings)
        places[pair, mix] = known[key]
    return many, places


def spread(setting: Setting, evens: NDArray[np.float64], rng: np.random.Generator) -> list[Value]:
    """One value for each of some numbers from 0 to 1, following them where values can be lined up, else drawn."""
    levels = setting.levels()
    if levels is not None:
        return [levels[min(int(even * len(levels)), len(levels) - 1)] for even in evens]
    if isinstance(setting, Knob):
        return [setting.nearest(setting.low + (setting.high - setting.low) * float(even)) for even in evens]
    return [setting.sample(rng) for _ in evens]
