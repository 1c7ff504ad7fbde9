"""How the search is run: choices that are saved with the study."""

from dataclasses import dataclass
from typing import Final

from optimiser.errors import BadInput

ENGINES: Final = ("own", "plain")
"""`own` is the Gaussian process of this package, `plain` is scikit-optimize's optimiser."""


@dataclass(frozen=True, kw_only=True)
class SearchPolicy:
    """Choices of the search, each a table entry under `[search]`.

    Attributes:
        engine: `own` or `plain`.
        first_trials: trials of the first design, before the search proper.
        trade_rules: whether "less gain and stage keeps articulation" is believed weakly from the start.
    """

    engine: str = "own"
    first_trials: int = 5
    trade_rules: bool = True

    def __post_init__(self) -> None:
        if self.engine not in ENGINES:
            raise BadInput(f"There is no search engine {self.engine!r}.", f"Use one of {', '.join(ENGINES)}.")
        if self.first_trials < 1:
            raise BadInput("A search needs at least one first trial.", "Set first_trials to 1 or more.")
