"""The score's formula, in numbers anybody can check by hand."""

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.scoring.figures import PARTS, Figures
from optimiser.scoring.match_score import STEPS, match_score, parts_of

NONE = Figures(0, 0, 0, 0, 0, 0, 0)


@pytest.mark.parametrize(("steps", "score"), [(0, 100.0), (1, 97.0350), (2, 90.0), (3, 80.0), (6, 50.0), (30, 3.846)])
def test_scores_of_whole_steps_of_tone(steps: int, score: float) -> None:
    # 100 / (1 + (steps / 6)^2) with the weight 1 of tone
    assert match_score(dataclasses.replace(NONE, tone=0.5 * steps)) == pytest.approx(score, abs=1e-3)


@given(st.lists(st.floats(0, 50), min_size=7, max_size=7), st.sampled_from(PARTS), st.floats(0.01, 10))
def test_more_of_any_part_never_scores_higher(values: list[float], part: str, more: float) -> None:
    figures = Figures(*values)
    worse = dataclasses.replace(figures, **{part: getattr(figures, part) + more})
    assert 0 < match_score(worse) <= match_score(figures) <= 100


def test_each_part_carries_its_step_and_weight() -> None:
    for part in parts_of(Figures(*(step for step, _, _ in STEPS.values()))):
        assert part.steps == 1
        assert (part.step, part.unit, part.weight) == STEPS[part.name]
