"""Ax with BoTorch by its default Bayesian method, the noise left to be inferred.

What it would keep is the best seen: that is what its own recommendation comes to in a client that is told of all trials
anew, and on the tuning draw its model's mean over what was tried chose no better.
"""

import logging
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

from ax.api.client import Client
from ax.api.configs import ChoiceParameterConfig, RangeParameterConfig

from optimiser.space import Settings
from optimiser.study import Study
from tests.benchmarks.opponents.coding import Coding, Column, told

FIRST_TRIALS: Final = 5
"""Ax's own number: the centre and four points of Sobol's sequence.

A client that was told of trials from elsewhere goes on with points of that sequence, so it is asked for them before it
is told of any, and for none once there are as many trials.
"""


def ask(study: Study, seed: int) -> Settings:
    """What Ax asks for next."""
    coding, made = Coding(study.sheet.space), len(study.trials)
    with _quiet():
        if made < FIRST_TRIALS:
            client = _client(coding, seed)
            client.configure_generation_strategy(initialization_random_seed=seed)
            asked = list(client.get_next_trials(max_trials=made + 1).values())[-1]
        else:
            client = _informed(study, coding, seed * 1000 + made)
            asked = next(iter(client.get_next_trials(max_trials=1).values()))
    return coding.permitted([float(asked[column.name]) for column in coding.columns], seed * 1000 + made)


def _client(coding: Coding, seed: int) -> Client:
    client = Client(random_seed=seed)
    client.configure_experiment([_parameter(column) for column in coding.columns])
    client.configure_optimization("value")
    return client


def _informed(study: Study, coding: Coding, seed: int) -> Client:
    client = _client(coding, seed)
    client.configure_generation_strategy(initialization_budget=0, initialize_with_center=False)
    for settings, value in told(study):
        place = client.attach_trial(_params(coding, settings))
        client.complete_trial(place, raw_data={"value": value})
    return client


def _parameter(column: Column) -> RangeParameterConfig | ChoiceParameterConfig:
    if column.kind == "name":
        return ChoiceParameterConfig(column.name, [str(n) for n in range(column.count)], "str", is_ordered=False)
    return RangeParameterConfig(column.name, (column.low, column.high), "float" if column.kind == "real" else "int")


def _params(coding: Coding, settings: Settings) -> dict[str, Any]:
    kinds: dict[str, Any] = {"real": float, "whole": int, "name": lambda number: str(int(number))}
    pairs = zip(coding.columns, coding.row(settings), strict=True)
    return {column.name: kinds[column.kind](number) for column, number in pairs}


@contextmanager
def _quiet() -> Iterator[None]:
    for name in list(logging.root.manager.loggerDict):
        if name.startswith("ax"):
            logging.getLogger(name).setLevel(logging.ERROR)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield
