"""How the search is run: choices that are saved with the study."""

import math
from dataclasses import dataclass
from typing import Final

from optimiser.errors import BadInput

ENGINES: Final = ("own", "plain")
"""`own` is the Gaussian process of this package, `plain` is scikit-optimize's optimiser."""


RANGES: Final = {
    "first_trials": (1.0, math.inf),
    "belief_draws": (1.0, math.inf),
    "candidates": (10.0, math.inf),
    "effort_weight": (0.0, 1.0),
}
"""Lowest and highest value of each number."""


@dataclass(frozen=True, kw_only=True)
class SearchPolicy:
    """Choices of the search, each a table entry under `[search]`; what they bring: studies/proposals-benchmark.

    Attributes:
        engine: `own` or `plain`.
        first_trials: trials of the first design, before the search proper.
        belief_draws: sets of the belief's scales over which predictions are averaged.
        candidates: arrangements looked at before the best are refined.
        effort_weight: how much minutes weigh at the start, from 0 (not at all) to 1 (gain per minute).
        trade_rules: whether what the trade knows of gain and stage, and where the wanted tone was recorded, counts as a
            weak belief beforehand.
    """

    engine: str = "own"
    first_trials: int = 6
    belief_draws: int = 4
    candidates: int = 1000
    effort_weight: float = 1.0
    trade_rules: bool = True

    def __post_init__(self) -> None:
        if self.engine not in ENGINES:
            raise BadInput(f"There is no search engine {self.engine!r}.", f"Use one of {', '.join(ENGINES)}.")
        for name, (least, most) in RANGES.items():
            if not least <= getattr(self, name) <= most:
                wanted = f"{least:g} or more" if math.isinf(most) else f"{least:g} to {most:g}"
                raise BadInput(f"{name} cannot be {getattr(self, name):g}.", f"Set {name} to {wanted}.")
