"""The score's formula, in numbers anybody can check by hand."""

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.scoring.figures import PARTS, Figures
from optimiser.scoring.match_score import STEPS, match_score, parts_of

NONE = Figures(0, 0, 0, 0, 0, 0, 0)


@pytest.mark.parametrize("name", PARTS)
@pytest.mark.parametrize("steps", [0, 1, 3, 30])
def test_the_score_of_whole_steps_of_one_part(name: str, steps: int) -> None:
    step, _, weight = STEPS[name]
    worse = dataclasses.replace(NONE, **{name: steps * step})
    assert match_score(worse) == pytest.approx(100 / (1 + weight * steps**2 / 36))


@given(st.lists(st.floats(0, 50), min_size=7, max_size=7), st.sampled_from(PARTS), st.floats(0.01, 10))
def test_more_of_any_part_never_scores_higher(values: list[float], part: str, more: float) -> None:
    figures = Figures(*values)
    worse = dataclasses.replace(figures, **{part: getattr(figures, part) + more})
    assert 0 < match_score(worse) <= match_score(figures) <= 100


def test_each_part_carries_its_step_and_weight() -> None:
    for part in parts_of(Figures(*(step for step, _, _ in STEPS.values()))):
        assert part.steps == 1
        assert (part.step, part.unit, part.weight) == STEPS[part.name]
