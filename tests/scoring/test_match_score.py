"""The score's formula, in numbers anybody can check by hand."""

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.errors import BadInput
from optimiser.scoring.figures import PARTS, Figures
from optimiser.scoring.match_score import (
    SHIPPED_WEIGHTS,
    STEPS,
    PartWeights,
    error_of_steps,
    match_score,
    parts_of,
    score_of_steps,
)

NONE = Figures(0, 0, 0, 0, 0, 0, 0)
EQUAL = PartWeights(1, 1, 1, 1, 1, 1, 1)


@pytest.mark.parametrize("name", PARTS)
@pytest.mark.parametrize("steps", [0, 1, 3, 30])
def test_the_score_of_whole_steps_of_one_part(name: str, steps: int) -> None:
    step, _, weight = STEPS[name]
    worse = dataclasses.replace(NONE, **{name: steps * step})
    assert match_score(worse) == pytest.approx(100 / (1 + weight * steps**2 / 36))


@pytest.mark.parametrize(("steps", "score"), [(0, 100.0), (1, 97.2973), (2, 90.0), (3, 80.0), (6, 50.0), (30, 3.846)])
def test_scores_of_whole_steps_of_tone(steps: int, score: float) -> None:
    # 100 / (1 + (steps / 6)^2) when every part weighs 1
    assert match_score(dataclasses.replace(NONE, tone=0.5 * steps), EQUAL) == pytest.approx(score, abs=1e-3)


@given(st.lists(st.floats(0, 50), min_size=7, max_size=7), st.sampled_from(PARTS), st.floats(0.01, 10))
def test_more_of_any_part_never_scores_higher(values: list[float], part: str, more: float) -> None:
    figures = Figures(*values)
    worse = dataclasses.replace(figures, **{part: getattr(figures, part) + more})
    assert 0 < match_score(worse) <= match_score(figures) <= 100


def test_each_part_carries_its_step_and_weight() -> None:
    for part in parts_of(Figures(*(step for step, _, _ in STEPS.values()))):
        assert part.steps == 1
        assert (part.step, part.unit, part.weight) == STEPS[part.name]


@given(st.lists(st.floats(0, 50), min_size=7, max_size=7))
def test_steps_score_as_their_figures_do(steps: list[float]) -> None:
    figures = Figures(*(many * step for many, (step, _, _) in zip(steps, STEPS.values(), strict=True)))
    assert score_of_steps(steps) == pytest.approx(match_score(figures))
    assert score_of_steps(steps, SHIPPED_WEIGHTS) == score_of_steps(steps)


def test_the_error_is_the_jackknife_of_the_scores() -> None:
    # closed form: for scores s_i, sqrt((n - 1) / n * sum (s_i - mean)^2); here 90 and 80 of two rows
    rows = [(2.0, 0, 0, 0, 0, 0, 0), (0, 3.0, 0, 0, 0, 0, 0)]
    assert error_of_steps(rows, EQUAL) == pytest.approx((0.5 * 50.0) ** 0.5)


@pytest.mark.parametrize("wrong", [-0.1, float("nan"), float("inf")])
def test_weights_that_cannot_be_are_refused(wrong: float) -> None:
    with pytest.raises(BadInput, match="weight of attack"):
        dataclasses.replace(EQUAL, attack=wrong)
    with pytest.raises(BadInput, match="No part"):
        PartWeights(0, 0, 0, 0, 0, 0, 0)
