"""Where to look: a spread of arrangements over the whole space, and the climb from the best of them."""

import math
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from itertools import pairwise, product
from typing import Final

import numpy as np

from optimiser.proposals.ground import Ground
from optimiser.space import Knob, MicPlace, Setting, Settings, Value
from optimiser.surrogate import Array

Score = Callable[[Sequence[Settings]], Array]
"""How good arrangements are, shape (m,), more being better."""

STRIDES: Final = (1, 3, 9, 27, 81)
"""Steps of a climb along a number, in tolerances (a choice, no source)."""

FEW: Final = 24
"""Up to so many values of a setting are all looked at in one step of a climb: orders of four (a choice, no source)."""

LEAPS: Final = (2.0, 6.0, 18.0, 54.0)
"""Lengths of a climb along the gradient, in tolerances of the steepest number (a choice, no source)."""


def spread(ground: Ground, count: int, rng: np.random.Generator) -> list[Settings]:
    """About `count` permitted arrangements over the whole space; every countable combination where they are few."""
    drawn = (settings for settings in _drawn(ground, count, rng) if ground.permits(settings))
    return list({ground.mark(settings): settings for settings in drawn}.values())


def _drawn(ground: Ground, count: int, rng: np.random.Generator) -> Iterator[Settings]:
    space = ground.space
    free = [setting for setting in space.settings if setting.name not in ground.locked]
    levels = {setting.name: setting.levels() for setting in free}
    counted = {name: values for name, values in levels.items() if values is not None}
    combinations = math.prod(len(values) for values in counted.values())
    if combinations > count:
        for _ in range(count):
            yield space.sample(rng, ground.locked)
        return
    uncounted = [setting for setting in free if levels[setting.name] is None]
    for _ in range(max(1, count // combinations) if uncounted else 1):
        for values in product(*counted.values()):
            drawn = dict(zip(counted, values, strict=True)) | {s.name: s.sample(rng) for s in uncounted}
            yield space.complete(ground.locked, drawn)


def climb(ground: Ground, starts: Sequence[Settings], score: Score, steps: int) -> list[tuple[Settings, float]]:
    """Follow each start uphill, one change or one step along the gradient of the numbers at a time.

    Returns:
        Where the climbs ended and how good that is, best first, each end once.
    """
    if not starts:
        return []
    here = list(starts)
    heights = score(here).tolist()
    moving = set(range(len(here)))
    for _ in range(steps):
        if not moving:
            break
        for index, settings, height in _best_moves(ground, here, sorted(moving), score):
            if height > heights[index] + 1e-9 * abs(heights[index]):
                here[index], heights[index] = settings, height
            else:
                moving.discard(index)
    ends = {ground.mark(settings): (settings, height) for settings, height in zip(here, heights, strict=True)}
    return sorted(ends.values(), key=lambda end: -end[1])


def _best_moves(
    ground: Ground, here: Sequence[Settings], moving: Sequence[int], score: Score
) -> Iterator[tuple[int, Settings, float]]:
    """For each start that still moves the best of its single changes and of its steps along the gradient."""
    singles = [list(_changes(ground, here[index])) for index in moving]
    scored = _scored(score, singles)
    leaps = [
        list(_leaps(ground, here[index], dict(zip(map(ground.mark, changes), heights, strict=True))))
        for index, changes, heights in zip(moving, singles, scored, strict=True)
    ]
    for index, changes, heights, more, more_heights in zip(
        moving, singles, scored, leaps, _scored(score, leaps), strict=True
    ):
        together = [*zip(changes, heights, strict=True), *zip(more, more_heights, strict=True)]
        settings, height = max(together, key=lambda pair: pair[1], default=(here[index], -math.inf))
        yield index, settings, height


def _scored(score: Score, groups: Sequence[list[Settings]]) -> list[list[float]]:
    flat = [settings for group in groups for settings in group]
    heights = score(flat).tolist() if flat else []
    ends = np.cumsum([0, *map(len, groups)]).tolist()
    return [heights[start:end] for start, end in pairwise(ends)]


def _changes(ground: Ground, settings: Settings) -> Iterator[Settings]:
    """Permitted arrangements that differ in one setting, or in one number by a stride."""
    space = ground.space
    for axis in ground.axes:
        if axis.setting in settings:
            number = axis.read(settings)
            for stride in STRIDES:
                for sign in (-1, 1):
                    moved = axis.write(settings, number + sign * stride * axis.tolerance, space)
                    if moved[axis.setting] != settings[axis.setting] and ground.permits(moved):
                        yield moved
    for setting in space.settings:
        if setting.name in settings and setting.name not in ground.locked:
            for value in _others(setting, settings[setting.name]):
                moved = _completed(ground, {**settings, setting.name: value})
                if ground.permits(moved):
                    yield moved


def _others(setting: Setting, value: Value) -> Sequence[Value]:
    """Every other value where they are few, else the neighbours; none for numbers, which go along their axes."""
    if isinstance(setting, Knob | MicPlace):
        return ()
    levels = setting.levels()
    return setting.neighbours(value) if levels is None or len(levels) > FEW else levels


def _completed(ground: Ground, changed: Settings) -> Settings:
    """A changed arrangement made whole: a setting that begins to exist starts locked or somewhere in its range."""
    if not ground.conditional:
        return changed
    rng = np.random.default_rng(0)
    spare = {setting.name: setting.sample(rng) for setting in ground.space.settings}
    return ground.space.complete(changed, spare | ground.locked)


def _leaps(ground: Ground, settings: Settings, known: Mapping[Hashable, float]) -> Iterator[Settings]:
    """Permitted arrangements along the gradient of the numbers, from scores one tolerance up and down."""
    space = ground.space
    axes = [axis for axis in ground.axes if axis.setting in settings]
    if len(axes) < 2:
        return
    slopes = []
    for axis in axes:
        number = axis.read(settings)
        sides = [axis.write(settings, number + sign * axis.tolerance, space) for sign in (1, -1)]
        up, down = (known.get(ground.mark(side)) for side in sides)
        slopes.append((up - down) if up is not None and down is not None else 0.0)
    steepest = max(abs(slope) for slope in slopes)
    if not (steepest > 0.0 and math.isfinite(steepest)):
        return
    for length in LEAPS:
        moved = settings
        for axis, slope in zip(axes, slopes, strict=True):
            moved = axis.write(moved, axis.read(settings) + length * axis.tolerance * slope / steepest, space)
        if moved != settings and ground.permits(moved):
            yield moved
