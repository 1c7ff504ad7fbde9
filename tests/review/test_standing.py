from collections.abc import Callable
from dataclasses import replace

import pytest

from optimiser.review import Standing, standing_of, views_of
from optimiser.review.progress import progress
from optimiser.review.report import where_it_stands
from optimiser.review.standing import LOOKS_BACK, plus_minus
from optimiser.study import Study, StudyState, Trial, load_sheet


def test_the_outlook_that_was_told_is_shown_as_it_was_told(states: Callable[..., StudyState]) -> None:
    state = states(8, loose_ends=False)
    told = {"gain_left": 123.0, "chance_near_best": 0.25, "eps": 1.0, "advice": "go on", "minutes_left": 1.0}
    proposals = {**state.proposals, 6: {"trial": 6, "kind": "search", "outlook": told}}
    outlooks = standing_of(replace(state, proposals=proposals)).outlooks
    assert [(then.gain_left, then.chance_near_best) for then in outlooks if then.after == 5] == [(123.0, 0.25)]


def test_the_present_outlook_comes_last_and_few_earlier_ones_are_worked_out(standing: Standing) -> None:
    assert standing.outlook is not None
    assert standing.outlooks[-1].after == 16
    assert standing.outlooks[-1].gain_left == standing.outlook.gain_left
    assert len(standing.outlooks) <= LOOKS_BACK + 1


def test_a_trial_that_lacks_a_part_stands_where_it_is_predicted(states: Callable[..., StudyState]) -> None:
    state = states(8, loose_ends=False)
    changed = {
        number: replace(trial, overall=None, overall_se=None, articulation_kept=None if number == 4 else 0.8)
        for number, trial in state.trials.items()
    }
    changed[4] = Trial(changed[4].settings, number=4, match=70.0)
    standing = standing_of(replace(state, trials=changed))
    assert 4 not in {trial.number for trial in standing.scored}
    rows = {row[0]: row for row in views_of(standing)["progress"].rows}
    assert rows["4"][2] == ""
    assert rows["4"][3] == plus_minus(*standing.believed[4])


def test_the_best_is_believed_best_and_not_the_luckiest(standing: Standing) -> None:
    assert standing.best is not None
    means = {trial.number: standing.believed[trial.number or 0][0] for trial in standing.scored}
    assert means[standing.best.number] == max(means.values())
    assert {3, 5, 17, 18}.isdisjoint(means), "failed, struck out, waiting and declined trials are no evidence"


def test_a_date_is_one_day_however_often_trials_were_made_again_on_it(standing: Standing) -> None:
    days = dict(zip(range(1, 17), "3333" + "1111" + "3333" + "2222", strict=True))
    trials = {
        number: replace(trial, day=f"2026-03-0{days[number]}" if number in days else None)
        for number, trial in standing.state.trials.items()
    }
    (axes,) = progress(replace(standing, state=replace(standing.state, trials=trials))).figure.get_axes()
    marked = [text.get_text().strip() for text in axes.texts if "day" in text.get_text()]
    assert marked == ["day 3", "day 1", "day 3", "day 2"]


def test_ninety_per_cent_of_a_normal_lie_within_the_interval() -> None:
    """Two-sided 90 % point of the normal distribution: 1.645 (any table)."""
    assert plus_minus(70.0, 10.0) == "70.0 ± 16.4"


def test_forbidden_arrangements_are_not_predicted(standing: Standing) -> None:
    forbidden = standing.varied(gain=17.0, stage="full")
    mean, sd = standing.predicted([forbidden])
    assert [mean[0], sd[0]] == pytest.approx([float("nan")] * 2, nan_ok=True)


def test_of_one_arrangement_made_several_times_the_highest_is_the_best() -> None:
    """Nothing is luck that is the same arrangement read higher."""
    study = Study(load_sheet('[study]\nname = "one"\n[settings.stage]\nkind = "stage"\nsteps = ["a", "b"]\n'))
    for stage, overall in (("b", 40.0), ("a", 60.0), ("a", 63.0), ("a", 61.0)):
        study = study.with_trial(Trial({"stage": stage}, overall=overall))
    standing = standing_of(StudyState(study.sheet, {trial.number or 0: trial for trial in study.trials}))
    assert standing.best is standing.highest
    assert where_it_stands(standing).startswith("Trial 3 is best so far: 63.0, after 4 measured trials.")
