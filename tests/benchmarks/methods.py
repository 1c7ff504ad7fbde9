"""Ways to hunt: each takes a study and says what to try next and what it would keep now."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from optimiser.proposals import propose, recommend
from optimiser.space import Knob, MicPlace, RiffOrder, SettingsSpace
from optimiser.study import Study, StudySheet

Arrangement = Mapping[str, Any]


def _as_it_is(sheet: StudySheet) -> StudySheet:
    return sheet


@dataclass(frozen=True)
class Method:
    """One way to hunt.

    Attributes:
        name: what it is called in the results.
        ask: what to try next, from the study, whose waiting trials are on their way, and the seed of the hunt.
        keep: what to keep now, from the study.
        needs: modules that must be installed.
        slow: whether its hunts come after those of the others.
        prepare: what becomes of the study's sheet before the hunt.
        around: what is in force for the length of a hunt.
        at_once: trials chosen before any of them is measured.
    """

    name: str
    ask: Callable[[Study, int], Arrangement]
    keep: Callable[[Study], Arrangement]
    needs: tuple[str, ...] = ()
    slow: bool = False
    prepare: Callable[[StudySheet], StudySheet] = _as_it_is
    around: Callable[[], AbstractContextManager[None]] = nullcontext
    at_once: int = 1


def best_seen(study: Study) -> Arrangement:
    """The settings with the highest value so far, luck included."""
    best = max(study.in_state("measured"), key=lambda trial: (study.overall(trial) or (0.0, 0.0))[0])
    return best.settings


def ask_ours(study: Study, seed: int) -> Arrangement:
    return propose(study, seed=seed * 1000 + len(study.trials))[0].settings


def _ask_random(study: Study, seed: int) -> Arrangement:
    return study.sheet.space.sample(np.random.default_rng([seed, len(study.trials)]))


def _ask_plain(study: Study, seed: int) -> Arrangement:
    sheet = replace(study.sheet, policy=replace(study.sheet.policy, engine="plain"))
    return propose(replace(study, sheet=sheet), seed=seed * 1000 + len(study.trials))[0].settings


def _ask_one_at_a_time(study: Study, seed: int) -> Arrangement:
    """Gain first, then stage, mic and riffs, each from the best so far; then round again with finer steps.

    The order is that of the trade (check values: first suspects for a low reading; common practice, no source). The
    seed chooses the spot and the riff order from which the hunt starts.
    """
    if not study.trials:
        return _start(study.sheet.space, seed)
    tried = {study.sheet.space.key(trial.settings) for trial in study.trials}
    for settings in _rounds(study):
        if study.sheet.space.key(settings) not in tried:
            return settings
    return _ask_random(study, seed)


def _start(space: SettingsSpace, seed: int) -> Arrangement:
    """Numbers in the middle, the middle step, the rest as it happens to stand."""
    drawn = space.sample(np.random.default_rng(seed))
    for setting in space.settings:
        if isinstance(setting, Knob):
            drawn[setting.name] = setting.nearest((setting.low + setting.high) / 2)
        elif setting.name == "stage":
            levels = setting.levels() or ()
            drawn[setting.name] = levels[len(levels) // 2]
    return drawn


def _rounds(study: Study) -> Iterator[Arrangement]:
    space = study.sheet.space
    best = dict(best_seen(study))
    for width in (0.5, 0.2, 0.08, 0.03):
        for setting in space.settings:
            if isinstance(setting, MicPlace):
                continue
            if isinstance(setting, Knob):
                span = setting.high - setting.low
                values: list[Any] = [
                    setting.nearest(best[setting.name] + step * span * width) for step in (-1, -0.5, 0.5, 1)
                ]
            elif isinstance(setting, RiffOrder):
                values = list(setting.neighbours(best[setting.name]))
            else:
                values = [value for value in setting.levels() or () if value != best[setting.name]]
            for value in values:
                yield {**best, setting.name: value}


METHODS: Final = (
    Method("ours", ask_ours, lambda study: recommend(study).settings),
    Method("random", _ask_random, best_seen),
    Method("one at a time", _ask_one_at_a_time, best_seen),
    Method("scikit-optimize", _ask_plain, best_seen, slow=True),
)
