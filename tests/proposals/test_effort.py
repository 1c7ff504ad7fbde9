"""Minutes between arrangements, cost cooling, and walks that never get longer by being sorted."""

from collections.abc import Callable
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.proposals.effort import cooling, handling_minutes, priced, shortest_walk, trial_minutes
from optimiser.space import Settings, SettingsSpace
from optimiser.study import Study, Trial, load_sheet

Hunt = Callable[..., Study]

SHEET = """
[study]
name = "walk"
[settings.gain]
kind = "knob"
scale = "number"
low = 0
high = 3
tolerance = 1
effort_minutes = 0.5
[settings.mic]
kind = "mic"
effort_minutes = 6
spots = ["a", "b", "c"]
"""


def _space() -> SettingsSpace:
    return load_sheet(SHEET).space


def _length(space: SettingsSpace, present: Settings, stops: list[Settings]) -> float:
    return sum(handling_minutes(space, one, other) for one, other in zip([present, *stops], stops, strict=False))


def test_only_what_changes_costs() -> None:
    space = _space()
    here: Settings = {"gain": 1.0, "mic": "a"}
    assert handling_minutes(space, here, here) == 0.0
    assert handling_minutes(space, here, {"gain": 2.0, "mic": "a"}) == 0.5
    assert handling_minutes(space, here, {"gain": 2.0, "mic": "b"}) == 6.5
    assert handling_minutes(space, None, here) == 6.5


@pytest.mark.parametrize(("exponent", "better"), [(1.0, "B"), (0.75, "B"), (0.71, "B"), (0.70, "A"), (0.0, "A")])
def test_cooling_turns_from_cheap_to_good(exponent: float, better: str) -> None:
    """Lee et al. 2020: gain / cost^a with A gaining 0.4 for 4 minutes and B 0.15 for 1; the turn is at 0.707519."""
    worth = priced(np.log([0.4, 0.15]), np.array([4.0, 1.0]), exponent)
    assert "AB"[int(np.argmax(worth))] == better


def test_effort_weighs_less_as_the_plan_is_used_up(job: Hunt) -> None:
    weights = [cooling(job(trials)) for trials in (0, 5, 10, 20, 22)]
    assert weights[0] == 1.0
    assert weights[2] == pytest.approx(0.5)
    assert weights == sorted(weights, reverse=True)
    assert weights[-1] == weights[-2] == 0.0


def test_minutes_of_a_trial_follow_the_studys_own_pace(job: Hunt) -> None:
    """Handling is taken off; while nothing was timed the sheet's figure counts."""
    study = job(8)
    assert trial_minutes(study) == study.sheet.minutes_per_trial == 5.0
    space, before = study.sheet.space, None
    timed = Study(study.sheet)
    for trial in study.trials:
        handled = 0.0 if before is None else handling_minutes(space, before, trial.settings)
        timed = timed.with_trial(replace(trial, minutes=9.0 + handled))
        before = trial.settings
    assert trial_minutes(timed) == pytest.approx((3 * 5.0 + 8 * 9.0) / 11)


def test_effort_may_be_left_out(job: Hunt) -> None:
    study = job(3)
    sheet = replace(study.sheet, policy=replace(study.sheet.policy, effort_weight=0.0))
    assert cooling(replace(study, sheet=sheet)) == 0.0


def test_a_waiting_trial_uses_up_the_plan_too(job: Hunt) -> None:
    study = job(12)
    waiting = study.with_trial(Trial(study.trials[0].settings, state="waiting"))
    assert cooling(waiting) < cooling(study)


@given(st.lists(st.tuples(st.integers(0, 3), st.sampled_from("abc")), min_size=1, max_size=10))
@settings(deadline=None, max_examples=40)
def test_a_sorted_walk_is_never_longer(stops: list[tuple[int, str]]) -> None:
    """It is the shortest of all, against every permutation where those are few."""
    space = _space()
    present: Settings = {"gain": 0.0, "mic": "a"}
    arrangements: list[Settings] = [{"gain": float(gain), "mic": mic} for gain, mic in stops]
    walk = shortest_walk(space, present, arrangements)
    assert sorted(walk) == list(range(len(stops)))
    length = _length(space, present, [arrangements[place] for place in walk])
    assert length <= _length(space, present, arrangements) + 1e-9
    if len(stops) <= 5:
        assert length == pytest.approx(min(_length(space, present, list(p)) for p in permutations(arrangements)))
