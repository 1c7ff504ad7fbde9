"""The first trials, spread over the space before anything is known."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from optimiser.proposals.candidates import spread
from optimiser.proposals.effort import Pace
from optimiser.proposals.ground import Ground
from optimiser.space import (
    AXES,
    Choice,
    Knob,
    MicPlace,
    MicSpot,
    RiffOrder,
    Setting,
    Settings,
    Stage,
    Value,
    encode,
    encoding,
)
from optimiser.study import StudySheet
from optimiser.surrogate import Array, kernel_of, times

POOL: Final = 400
"""Arrangements among which the next is chosen (a choice, no source)."""

REFERENCES: Final = 300
"""Arrangements over which doubt is averaged (a choice, no source)."""

NOISE: Final = 0.05
"""Noise variance of a trial, as a share of the space's variance, while nothing is known (a choice, no source)."""


def wanted_start(sheet: StudySheet) -> Settings | None:
    """The settings of the wanted tone, what is not known of them in the middle; None where none is known or allowed.

    A hunt starts there: the amp sounds as wanted, and the first trial tells how well a capture follows it.
    """
    if not sheet.goal_settings:
        return None
    usual = {setting.name: _usual(setting) for setting in sheet.space.settings}
    start = sheet.space.complete(sheet.goal_settings, usual)
    return start if sheet.space.allows(start) else None


def _usual(setting: Setting) -> Value:
    if isinstance(setting, Knob):
        return setting.nearest((setting.low + setting.high) / 2)
    if isinstance(setting, MicPlace):
        return setting.nearest({axis: (low + high) / 2 for axis, (low, high) in zip(AXES, setting.ranges, strict=True)})
    if isinstance(setting, Stage):
        return setting.steps[len(setting.steps) // 2]
    if isinstance(setting, RiffOrder):
        return list(setting.riffs[: setting.use])
    return (setting.levels() or (setting.sample(np.random.default_rng(0)),))[0]


def next_first(
    ground: Ground, done: Sequence[Settings], pace: Pace, present: Settings | None, rng: np.random.Generator
) -> Settings | None:
    """The arrangement that takes most doubt out of the whole space for its minutes; None when none may be proposed.

    Doubt is the variance of a Gaussian process with the kernel's scales as believed beforehand, averaged over
    arrangements drawn evenly; what is `done` already counts. Choosing what lowers it most keeps clear of earlier
    trials and of the corners alike [Sacks1989].
    """
    space = ground.space
    pool = spread(ground, POOL, rng)
    if not pool:
        return None
    references = spread(Ground(space, {}), REFERENCES, rng)
    kernel = kernel_of(encoding(space))
    hyper = np.array([prior.mean for prior in kernel.priors])
    rows = encode(space, [*pool, *done, *references])
    covariance = kernel.covariance(kernel.compare(rows, rows[: len(pool) + len(done)]), hyper)
    for place in range(len(done)):
        covariance = _after(covariance, len(pool) + place)
    cross = covariance[len(rows) - len(references) :, : len(pool)]
    variance = np.diag(covariance[: len(pool), : len(pool)])
    lowered = np.einsum("rp,rp->p", cross, cross) / (variance + NOISE)
    lowered *= [_freshness(ground, settings, done) for settings in pool]
    return pool[int(np.argmax(pace.priced(np.log(np.maximum(lowered, 1e-300)), present, pool)))]


def _freshness(ground: Ground, settings: Settings, done: Sequence[Settings]) -> float:
    """Product over settings of 1 / (1 + how often it was tried), so that each step, spot and option gets its turn.

    Of a number each third of the range counts as one.
    """
    fresh = 1.0
    for setting in ground.space.settings:
        if isinstance(setting, Stage | MicSpot | Choice) and setting.name in settings:
            fresh /= 1 + sum(other.get(setting.name) == settings[setting.name] for other in done)
    for axis in ground.axes:
        if axis.setting in settings:
            thirds = [axis.third(other) for other in done if not isinstance(other.get(axis.setting), str | None)]
            fresh /= 1 + thirds.count(axis.third(settings))
    return fresh


def _after(covariance: Array, place: int) -> Array:
    """The covariance (m, n) once the arrangement at column `place`, which is also row `place`, has been tried."""
    column = covariance[:, place : place + 1]
    row = covariance[place : place + 1]
    return covariance - times(column, row) / (float(covariance[place, place]) + NOISE)
