"""scikit-optimize's own optimiser as an engine; nothing of it leaves this file, and nothing of it is kept.

It is rebuilt from the trials for every proposal. Knobs and free places are real numbers, stages whole ones, spots and
choices categories; a riff order is a number for each riff, played from the lowest to the highest, which is the usual
recipe for a tool that knows no orders. It knows neither conditions, rules, locks nor effort: what it proposes is made
whole and, where it may not be proposed, asked for again.
"""

import warnings
from collections.abc import Sequence
from typing import Any, Final, cast

import numpy as np
from skopt import Optimizer
from skopt.space import Categorical, Integer, Real

from optimiser.proposals.candidates import spread
from optimiser.proposals.engines.choice import Choice, Wish
from optimiser.proposals.ground import Ground, nothing_left
from optimiser.space import AXES, Knob, MicPlace, RiffOrder, Setting, Settings, SettingsSpace, Stage, Value

ATTEMPTS: Final = 20
"""Proposals asked for before a permitted arrangement is drawn at random instead (a choice, no source)."""

SEEDS: Final = 2**31
"""scikit-optimize takes seeds below this."""


def choose(wish: Wish) -> list[Choice]:
    """Arrangements to try next; a batch is made by its own strategy of lying about those on their way.

    Raises:
        NothingLeft: none may be proposed.
    """
    space = wish.study.sheet.space
    made = len(wish.study.in_state("measured", "failed", "waiting"))
    first = max(0, wish.study.sheet.policy.first_trials - made)
    optimiser = Optimizer(
        [dimension for setting in space.settings for dimension in _dimensions(setting)],
        random_state=wish.seed % SEEDS,
        n_initial_points=wish.study.sheet.policy.first_trials,
    )
    _tell(optimiser, wish)
    rng = np.random.default_rng(wish.seed)
    ground, chosen = wish.ground, []
    for place in range(wish.count):
        settings = _permitted(optimiser, ground, space) or next(iter(spread(ground, 50, rng)), None)
        if settings is None:
            break
        ground = ground.without(settings)
        chosen.append(Choice(settings, "first design" if place < first else "search"))
        if len(chosen) < wish.count:
            optimiser.tell(_point(space, settings), _lie(wish))
    if not chosen:
        raise nothing_left()
    return chosen


def _tell(optimiser: Optimizer, wish: Wish) -> None:
    if wish.belief is None:
        return
    space, evidence = wish.study.sheet.space, wish.belief.evidence
    inside = [not space.outside(settings) for settings in evidence.settings]
    told = [settings for settings, fits in zip(evidence.settings, inside, strict=True) if fits]
    values = [-float(value) for value, fits in zip(evidence.values, inside, strict=True) if fits]
    for trial in wish.study.in_state("waiting"):
        told.append(dict(trial.settings))
        values.append(_lie(wish))
    if told:
        optimiser.tell([_point(space, settings) for settings in told], values)


def _lie(wish: Wish) -> float:
    """The best value so far, told of a trial that is still on its way."""
    return 0.0 if wish.belief is None else -float(wish.belief.evidence.values.max())


def _permitted(optimiser: Optimizer, ground: Ground, space: SettingsSpace) -> Settings | None:
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="The objective has been evaluated")
        first = optimiser.ask()
    for point in [first, *_more(optimiser)]:
        settings = space.complete(ground.locked, _settings(space, point))
        if ground.permits(settings):
            return settings
    return None


def _more(optimiser: Optimizer) -> list[list[Any]]:
    """Further points, drawn as its first ones are."""
    return cast(list[list[Any]], optimiser.space.rvs(n_samples=ATTEMPTS, random_state=0))


def _dimensions(setting: Setting) -> list[Any]:
    match setting:
        case Knob():
            return [Real(setting.low, setting.high)]
        case Stage():
            return [Integer(0, len(setting.steps) - 1)]
        case MicPlace():
            return [Real(low, high if high > low else low + 1.0) for low, high in setting.ranges]
        case RiffOrder():
            return [Real(0.0, 1.0) for _ in setting.riffs]
    levels = setting.levels() or ()
    return [Categorical(list(range(len(levels))))]


def _point(space: SettingsSpace, settings: Settings) -> list[float]:
    """An arrangement as scikit-optimize's numbers; a setting that does not exist stands at its first value."""
    point: list[float] = []
    for setting in space.settings:
        value = settings.get(setting.name)
        point += _numbers(setting, setting.sample(np.random.default_rng(0)) if value is None else value)
    return point


def _numbers(setting: Setting, value: Value) -> list[float]:
    match setting:
        case Knob():
            return [float(cast(float, value))]
        case MicPlace():
            return [float(cast(dict[str, float], value)[axis]) for axis in AXES]
        case RiffOrder():
            count = len(setting.riffs)
            return [(min(position, count - 1) + 0.5) / count for position in setting.positions(value)]
    return [(setting.levels() or ()).index(value)]


def _settings(space: SettingsSpace, point: Sequence[Any]) -> Settings:
    settings: Settings = {}
    numbers = [float(number) for number in point]
    for setting in space.settings:
        width = len(_dimensions(setting))
        settings[setting.name] = _value(setting, numbers[:width])
        numbers = numbers[width:]
    return settings


def _value(setting: Setting, numbers: Sequence[float]) -> Value:
    match setting:
        case Knob():
            return setting.nearest(numbers[0])
        case MicPlace():
            return cast(Value, setting.nearest(dict(zip(AXES, numbers, strict=True))))
        case RiffOrder():
            order = sorted(range(len(setting.riffs)), key=lambda place: numbers[place])
            return [setting.riffs[place] for place in order[: setting.use]]
    return (setting.levels() or ())[int(numbers[0])]
