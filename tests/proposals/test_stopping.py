"""The outlook: chances are chances, gain falls as the space is learnt, and the advice follows."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.proposals import outlook, recommend
from optimiser.proposals.stopping import sobered
from optimiser.study import Study, Trial, load_sheet

Hunt = Callable[..., Study]
STEPS = """
[study]
name = "steps"
trials_planned = 12
minutes_per_trial = 4
[settings.stage]
kind = "stage"
steps = ["a", "b", "c"]
"""


def _steps(repeats: int) -> Study:
    study = Study(load_sheet(STEPS))
    for turn in range(repeats):
        for step, overall in (("a", 50.0), ("b", 70.0), ("c", 40.0)):
            study = study.with_trial(Trial({"stage": step}, overall=overall + 0.4 * (turn % 2)))
    return study


def test_outlook_is_made_of_chances_and_points(job: Hunt) -> None:
    for trials in (1, 4, 12):
        now = outlook(job(trials))
        assert now.gain_left >= 0.0
        assert 0.0 <= now.chance_near_best <= 1.0
        assert now.eps > 0.0
        assert now.advice in ("go on", "verify", "stop")


def test_a_fresh_hunt_goes_on(job: Hunt) -> None:
    assert outlook(job(3)).advice == "go on"


def test_a_space_tried_through_is_near_its_best() -> None:
    assert outlook(_steps(3)).chance_near_best > 0.9


def test_what_was_heard_once_is_verified_and_what_was_heard_twice_ends_the_hunt() -> None:
    assert outlook(_steps(1)).advice in ("go on", "verify")
    assert outlook(_steps(3)).advice == "stop"


@given(st.integers(0, 512))
def test_the_chance_told_is_never_certain_nor_bolder_than_the_draws(near: int) -> None:
    told, drawn = sobered(near, 512), (near + 0.5) / 513.0
    assert 0.0 < told < 1.0
    assert abs(told - 0.5) <= abs(drawn - 0.5)
    assert (told - 0.5) * (drawn - 0.5) >= 0.0
    assert told + sobered(512 - near, 512) == pytest.approx(1.0)


def test_gain_left_falls_as_the_space_is_learnt(job: Hunt, job_value: Callable[[Mapping[str, Any]], float]) -> None:
    """Trials at the recommended settings and around them leave less to gain."""
    study = job(6)
    before = outlook(study).gain_left
    for _ in range(8):
        settings = recommend(study).settings
        study = study.with_trial(Trial(settings, overall=job_value(settings)))
    assert outlook(study).gain_left < before


def test_minutes_follow_the_plan_and_then_the_pace() -> None:
    """Hands included: a stage takes 0.2 minutes, and three timed trials count as much as the sheet does."""
    study = _steps(1)
    assert outlook(study).minutes_left == pytest.approx(9 * (4.0 + 0.2))
    timed = Study(study.sheet, tuple(replace(trial, minutes=10.0) for trial in study.trials))
    assert outlook(timed).minutes_left == pytest.approx(9 * ((3 * 4.0 + 10.0 + 2 * 9.8) / 6 + 0.2))


def test_the_same_study_has_the_same_outlook(job: Hunt) -> None:
    assert outlook(job(5)) == outlook(job(5))


@pytest.mark.parametrize("seed", range(3))
def test_a_wrong_number_is_named_and_a_failed_run_is_not(job: Hunt, seed: int) -> None:
    """A trial typed in 60 points low fits none of 24 others; a run that failed tells nothing of its score."""
    study = job(25, seed)
    assert outlook(study).doubted == ()
    wrong = replace(study.trials[6], overall=(study.trials[6].overall or 0.0) - 60.0)
    told = outlook(study.with_trial(wrong))
    assert told.doubted == (7,)
    assert told.covered < told.checked == 25
    failed = replace(study.trials[2], state="failed", overall=None)
    assert outlook(study.with_trial(failed)).doubted == ()


def test_most_trials_lie_inside_the_intervals_that_the_others_predict(job: Hunt) -> None:
    """Out of 5 studies of 16 trials about nine in ten; none is told while there are too few."""
    assert outlook(job(4)).checked == 0
    told = [outlook(job(16, seed)) for seed in range(5)]
    assert [each.checked for each in told] == [16] * 5
    assert 0.8 <= sum(each.covered for each in told) / 80 <= 1.0
