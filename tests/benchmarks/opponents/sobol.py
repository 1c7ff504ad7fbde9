"""A quasi-random sequence of Sobol's over knobs, places, stage, spot and the order's index; it learns nothing."""

from collections.abc import Iterator
from itertools import islice

import numpy as np
from scipy.stats import qmc

from optimiser.space import Settings
from optimiser.study import Study
from tests.benchmarks.opponents.coding import Coding


def ask(study: Study, seed: int) -> Settings:
    """The next permitted point of the seed's scrambled sequence."""
    return next(islice(_sequence(Coding(study.sheet.space), seed), len(study.trials), None))


def _sequence(coding: Coding, seed: int) -> Iterator[Settings]:
    sequence = qmc.Sobol(len(coding.columns), rng=np.random.default_rng(seed))
    while True:
        shares = sequence.random(1)[0]
        settings = coding.settings([column.at(share) for column, share in zip(coding.columns, shares, strict=True)])
        if coding.space.allows(settings):
            yield settings
