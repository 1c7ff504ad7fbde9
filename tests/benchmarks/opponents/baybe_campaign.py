"""BayBE by its default two phases: one arrangement at random, then a Gaussian process, its noise left to be inferred.

Its search over names and numbers together works through every combination of names, which takes minutes here; so where
a sheet has names the candidates are listed, with numbers in steps. Expected improvement is computed exactly instead of
by its default's random draws, which for one proposal at a time is the same figure in a quarter of the time.
"""

import math
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import product
from typing import Any, Final

import numpy as np
import pandas as pd
from baybe import Campaign
from baybe.parameters import (
    CategoricalParameter,
    NumericalContinuousParameter,
    NumericalDiscreteParameter,
)
from baybe.recommenders import BotorchRecommender, TwoPhaseMetaRecommender
from baybe.searchspace import SearchSpace
from baybe.settings import Settings as Seeded
from baybe.targets import NumericalTarget
from scipy.stats import qmc

from optimiser.space import Settings
from optimiser.study import Study
from tests.benchmarks.opponents.coding import Coding, Column, told

STEPS: Final = 37
"""Steps of one listed number: quarters of an hour from 8:00 to 17:00."""

LISTED: Final = 20_000
"""Most candidates; where all combinations are more than these, `DRAWN` of them are drawn anew for each proposal.

An order of five riffs has 79,920, with which a proposal took up to 13 s.
"""

DRAWN: Final = 2**13
MODELLED_FROM: Final = 1
"""BayBE's own number of trials before its model takes over."""


def ask(study: Study, seed: int) -> Settings:
    """What BayBE asks for next."""
    fresh = seed * 1000 + len(study.trials)
    coding = Coding(study.sheet.space)
    with _quiet(fresh):
        asked = _campaign(study, coding, fresh).recommend(batch_size=1).iloc[0]
    return coding.permitted([float(asked[column.name]) for column in coding.columns], fresh)


def keep(study: Study) -> Settings:
    """Of the arrangements tried, the one of which its model's mean is highest."""
    tried = told(study)
    with _quiet(0):
        means = _campaign(study, Coding(study.sheet.space), 0).posterior_stats(stats=["mean"])
    return tried[int(means.to_numpy().argmax())][0]


def _campaign(study: Study, coding: Coding, seed: int) -> Campaign:
    recommender = TwoPhaseMetaRecommender(
        recommender=BotorchRecommender(acquisition_function="LogEI"), switch_after=MODELLED_FROM
    )
    target = NumericalTarget("value").to_objective()
    campaign = Campaign(_search_space(coding, seed), target, recommender)
    tried = told(study)
    if tried:
        rows = _table(coding, [coding.row(settings) for settings, _ in tried])
        rows["value"] = [value for _, value in tried]
        campaign.add_measurements(rows, numerical_measurements_must_be_within_tolerance=False)
    return campaign


def _search_space(coding: Coding, seed: int) -> SearchSpace:
    if all(column.kind == "real" for column in coding.columns):
        bounds = [(column.name, (column.low, column.high)) for column in coding.columns]
        return SearchSpace.from_product([NumericalContinuousParameter(*each) for each in bounds])
    rows = _candidates(coding, seed)
    values = [sorted({row[place] for row in rows}) for place in range(len(coding.columns))]
    parameters = [_parameter(column, steps) for column, steps in zip(coding.columns, values, strict=True)]
    return SearchSpace.from_dataframe(_table(coding, rows), parameters)


def _candidates(coding: Coding, seed: int) -> list[tuple[float, ...]]:
    counts = [STEPS if column.kind == "real" else column.count for column in coding.columns]
    if math.prod(counts) <= LISTED:
        spans = ((column.low, column.high) for column in coding.columns)
        return list(product(*(np.linspace(*span, count).tolist() for span, count in zip(spans, counts, strict=True))))
    shares = qmc.Sobol(len(counts), rng=np.random.default_rng(seed)).random(DRAWN)
    drawn = ([column.at(share) for column, share in zip(coding.columns, point, strict=True)] for point in shares)
    return sorted({coding.row(coding.settings(row)) for row in drawn})


def _parameter(column: Column, values: Sequence[float]) -> Any:
    if column.kind == "name":
        return CategoricalParameter(column.name, [str(n) for n in range(column.count)])
    return NumericalDiscreteParameter(column.name, tuple(values))


def _table(coding: Coding, rows: Sequence[Sequence[float]]) -> pd.DataFrame:
    table = pd.DataFrame([list(row) for row in rows], columns=[column.name for column in coding.columns])
    for column in coding.columns:
        if column.kind == "name":
            table[column.name] = table[column.name].astype(int).astype(str)
    return table.astype({column.name: float for column in coding.columns if column.kind != "name"})


@contextmanager
def _quiet(seed: int) -> Iterator[None]:
    with warnings.catch_warnings(), Seeded(random_seed=seed):
        warnings.simplefilter("ignore")
        yield
