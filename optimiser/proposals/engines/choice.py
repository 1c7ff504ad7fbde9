"""What an engine is asked and what it answers."""

from dataclasses import dataclass

from optimiser.proposals.belief import Belief
from optimiser.proposals.ground import Ground
from optimiser.space import Settings
from optimiser.study import Study


@dataclass(frozen=True)
class Wish:
    """What is asked of an engine.

    Attributes:
        study: what is known.
        belief: what follows from it; None while no score is known.
        ground: the arrangements that may be proposed; those waiting or declined are not among them.
        present: how the chain stands now; None when that is not known.
        count: how many arrangements are wanted.
        seed: from which every random choice follows.
        new_day: whether the first trial begins a day.
    """

    study: Study
    belief: Belief | None
    ground: Ground
    present: Settings | None
    count: int
    seed: int
    new_day: bool = False


@dataclass(frozen=True)
class Choice:
    """One arrangement that an engine chose.

    Attributes:
        settings: the arrangement.
        kind: `first design`, `search`, `repeat` or `check`.
        easier: other arrangements that promise nearly as much, the most promising first.
        advised: whether it is where the advisers hold the best.
        lesson: points by which a trial there is expected to raise the best believed score, times the chance that its
            reading is accepted; None where that was not weighed.
    """

    settings: Settings
    kind: str
    easier: tuple[Settings, ...] = ()
    advised: bool = False
    lesson: float | None = None
