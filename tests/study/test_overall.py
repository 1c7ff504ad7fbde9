"""How figures become one score."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.study import OverallWeights, Part, ReadingBand, Study, Trial, combine, load_sheet, nearness

SHEET = load_sheet('[study]\nname = "a"\n[settings.gain]\nkind = "knob"\nlow = 0\nhigh = 10\n[reading]\n')


def test_the_published_form_of_the_overall_desirability() -> None:
    """Derringer and Suich 1980: with equal weights the geometric mean, D = (d1 d2)^(1/2)."""
    overall, se = combine([Part("match", 1.0, 0.9), Part("goal", 1.0, 0.4)])
    assert overall == pytest.approx(100 * math.sqrt(0.36))
    assert se == 0.0


@given(
    shares=st.lists(st.floats(0.02, 1.0), min_size=1, max_size=4),
    weights=st.lists(st.floats(0.1, 5.0), min_size=4, max_size=4),
)
def test_the_overall_lies_between_its_parts_and_rises_with_each(shares: list[float], weights: list[float]) -> None:
    parts = [Part(str(i), weights[i], share) for i, share in enumerate(shares)]
    overall, _ = combine(parts)
    assert 100 * min(shares) - 1e-9 <= overall <= 100 * max(shares) + 1e-9
    better = [Part(part.name, part.weight, min(1.0, (part.desirability or 0) * 1.1)) for part in parts]
    assert combine(better)[0] >= overall


@given(share=st.floats(0.1, 0.9), other=st.floats(0.1, 0.9), se=st.floats(1e-4, 0.05))
def test_the_error_is_the_slope_times_the_parts_error(share: float, other: float, se: float) -> None:
    """Delta method, against a finite difference."""
    step = 1e-6
    value, error = combine([Part("match", 2.0, share, se), Part("goal", 1.0, other)])
    moved, _ = combine([Part("match", 2.0, share + step), Part("goal", 1.0, other)])
    assert error == pytest.approx((moved - value) / step * se, rel=1e-3)


def test_a_missing_part_leaves_the_score_open() -> None:
    study = Study(SHEET, (Trial({"gain": 3}, match=80.0), Trial({"gain": 4}, match=70.0, articulation_kept=0.8)))
    assert study.overall(study.trials[0]) is None
    assert study.overall(study.trials[1]) is not None


def test_an_overall_given_outright_stands() -> None:
    study = Study(SHEET, (Trial({"gain": 3}, overall=-12.5, overall_se=0.5, match=80.0),))
    assert study.overall(study.trials[0]) == (-12.5, 0.5)


@pytest.mark.parametrize(
    ("reading", "upper", "near"),
    [(7, False, 100), (6, False, 100), (3, False, 50), (0, False, 0), (10, False, 100), (9, True, 50)],
)
def test_readings_alone_are_scored_by_nearness_to_the_band(reading: float, upper: bool, near: float) -> None:
    assert nearness(reading, ReadingBand(upper=upper)) == pytest.approx(near)
    study = Study(SHEET, (Trial({"gain": 3}, reading=reading),))
    assert study.by_reading_alone
    assert study.overall(study.trials[0]) is not None


def test_weights_fix_which_parts_count() -> None:
    assert OverallWeights().ear == 0.0
    study = Study(SHEET, (Trial({"gain": 3}, match=80.0, goal=50.0, articulation_kept=1.0, ear=9.0),))
    assert [part.name for part in study.parts(study.trials[0])] == ["match", "goal", "articulation"]


@pytest.mark.parametrize(
    ("reading", "words"), [(4.9, "do it again"), (5.5, "below the wanted"), (7, ""), (9.5, "above the wanted")]
)
def test_the_reading_in_words(reading: float, words: str) -> None:
    """Thresholds of common practice: below 5 again, 6 to 8 wanted."""
    assert words in ReadingBand().verdict(reading)
