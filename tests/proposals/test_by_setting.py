"""What each change of a proposal brings adds up, and is shared as the theory of games says."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from optimiser.proposals import believe
from optimiser.proposals.by_setting import by_setting
from tests.proposals.conftest import Hunt


@dataclass(frozen=True)
class Game:
    """A belief whose expectation is the worth of a coalition: of the settings that stand at 1."""

    worth: dict[frozenset[str], float]

    def told(self, many: Sequence[dict[str, Any]]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Worth of each arrangement's coalition, and twice it as its doubt."""
        coalitions = [frozenset(name for name, value in one.items() if value == 1) for one in many]
        means = np.array([self.worth.get(coalition, 0.0) for coalition in coalitions])
        return means, 2.0 * means


def test_a_pair_of_gloves_is_shared_as_published() -> None:
    """One left glove, two right ones, a pair is worth 1: Shapley values 2/3, 1/6, 1/6 (textbook example)."""
    names = ("left", "right", "other right")
    pairs = [{"left", "right"}, {"left", "other right"}, set(names)]
    game: Any = Game({frozenset(pair): 1.0 for pair in pairs})
    portions = by_setting(game, dict.fromkeys(names, 0), dict.fromkeys(names, 1))
    assert [portions[name].gain for name in names] == pytest.approx([2 / 3, 1 / 6, 1 / 6])
    assert [portions[name].doubt for name in names] == pytest.approx([4 / 3, 1 / 3, 1 / 3])


def test_many_changes_are_shared_as_well() -> None:
    """Seven players of whom each adds his own worth: that is his share [Owen2014]."""
    names = [f"p{number}" for number in range(7)]
    coalitions = [frozenset(name for place, name in enumerate(names) if code >> place & 1) for code in range(2**7)]
    game: Any = Game({coalition: float(sum(int(name[1:]) for name in coalition)) for coalition in coalitions})
    portions = by_setting(game, dict.fromkeys(names, 0), dict.fromkeys(names, 1))
    assert [portions[name].gain for name in names] == pytest.approx(range(7))


@pytest.mark.parametrize("seed", range(4))
def test_portions_add_up_where_settings_come_and_go(choosy: Hunt, seed: int) -> None:
    study = choosy(10, seed)
    belief = believe(study)
    assert belief is not None
    before, after = (study.sheet.space.sample(np.random.default_rng([seed, turn])) for turn in (0, 1))
    portions = by_setting(belief, before, after)
    means, sds = belief.mean_sd([before, after])
    assert set(portions) == set(before) | set(after)
    assert sum(portion.gain for portion in portions.values()) == pytest.approx(means[1] - means[0])
    assert sum(portion.doubt for portion in portions.values()) == pytest.approx(sds[1] - sds[0])
    for name, portion in portions.items():
        if before.get(name) == after.get(name):
            assert (portion.gain, portion.doubt) == (0.0, 0.0)
