"""Optuna's samplers: a tree of Parzen estimators, and a Gaussian process with its noise left to be inferred."""

import warnings
from typing import Any, Final

import optuna
from optuna.distributions import BaseDistribution, CategoricalDistribution, FloatDistribution, IntDistribution

from optimiser.space import Settings
from optimiser.study import Study
from tests.benchmarks.opponents.coding import Coding, Column, told

FIRST_TRIALS: Final = 5
"""Random trials before either sampler learns; Optuna's own number is 10, and 5 left less on the tuning draw."""


def ask_tpe(study: Study, seed: int) -> Settings:
    """What the tree of Parzen estimators asks for next."""
    fresh = seed * 1000 + len(study.trials)
    return _ask(study, optuna.samplers.TPESampler(seed=fresh, n_startup_trials=FIRST_TRIALS), fresh)


def ask_gp(study: Study, seed: int) -> Settings:
    """What the Gaussian process asks for next."""
    fresh = seed * 1000 + len(study.trials)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        sampler = optuna.samplers.GPSampler(seed=fresh, n_startup_trials=FIRST_TRIALS)
    return _ask(study, sampler, fresh)


def _ask(study: Study, sampler: Any, seed: int) -> Settings:
    coding = Coding(study.sheet.space)
    distributions = {column.name: _distribution(column) for column in coding.columns}
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        hunt = optuna.create_study(direction="maximize", sampler=sampler)
        for settings, value in told(study):
            params = _params(coding, settings)
            hunt.add_trial(optuna.trial.create_trial(params=params, distributions=distributions, value=value))
        asked = hunt.ask(distributions).params
    return coding.permitted([float(asked[column.name]) for column in coding.columns], seed)


def _distribution(column: Column) -> BaseDistribution:
    if column.kind == "real":
        return FloatDistribution(column.low, column.high)
    if column.kind == "whole":
        return IntDistribution(int(column.low), int(column.high))
    return CategoricalDistribution(list(range(column.count)))


def _params(coding: Coding, settings: Settings) -> dict[str, Any]:
    pairs = zip(coding.columns, coding.row(settings), strict=True)
    return {column.name: number if column.kind == "real" else int(number) for column, number in pairs}
