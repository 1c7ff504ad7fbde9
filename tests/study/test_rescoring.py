"""A study's own weights change what its takes score, and nothing that was stored."""

import json
from dataclasses import asdict, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.scoring import MEASURE_VERSION, SHIPPED_WEIGHTS, Part, PartWeights
from optimiser.study import (
    Event,
    StudyState,
    Trial,
    fold,
    load_sheet,
    parts_as_scored,
    sheet_to_tables,
    trial_to_json,
    why_kept,
)

SHEET = load_sheet('[study]\nname = "a"\n[settings.gain]\nkind = "knob"\nlow = 0\nhigh = 10\n')
OWN = PartWeights(tone=0.0, dynamics=1.0, attack=0.0, residual=0.0, texture=0.0, decay=0.0, noise=0.0)
NAMES = ("tone", "dynamics", "attack", "residual", "texture", "decay", "noise")
STEPS = (1.0, 3.0, 0.5, 2.0, 1.5, 0.0, 0.2)
ROWS = [[1.0, 3.0 + 0.1 * place, 0.5, 2.0, 1.5, 0.0, 0.2] for place in range(10)]
AT = "2026-03-02T10:00:00+00:00"
STARTED = Event("started", {"sheet": sheet_to_tables(SHEET)}, AT)
OPTED_IN = Event("sheet changed", {"sheet": sheet_to_tables(replace(SHEET, match_weights=OWN))}, AT)


def shipped_score(steps: tuple[float, ...] = STEPS) -> float:
    return float(100 / (1 + np.dot(SHIPPED_WEIGHTS.in_order(), np.square(steps)) / 36))


def parts(steps: tuple[float, ...] = STEPS) -> list[dict[str, Any]]:
    weighed = zip(NAMES, steps, SHIPPED_WEIGHTS.in_order(), strict=True)
    return [asdict(Part(name, step, "dB", 1.0, weight, step)) for name, step, weight in weighed]


def details(**changes: object) -> dict[str, Any]:
    kept = {"parts": parts(), "parts_without": ROWS, "measure_version": MEASURE_VERSION, **changes}
    return {name: entry for name, entry in kept.items() if entry is not None}


def measured(kept: dict[str, Any], **figures: float) -> Event:
    trial = Trial({"gain": 3}, number=1, match=figures.pop("match", shipped_score()), match_se=1.0, **figures)  # type: ignore[arg-type]
    return Event("measured", json.loads(json.dumps({"trial": trial_to_json(trial), "details": kept})), AT)


def after(*events: Event) -> StudyState:
    return fold([STARTED, *events])


def test_match_and_its_error_follow_the_studys_weights() -> None:
    state = after(measured(details()), OPTED_IN)
    trial = state.study.trial(1)
    # by hand: dynamics alone, 3 steps, 100 / (1 + 9 / 36) = 80; jackknife over the ten rows in closed form
    assert trial.match == pytest.approx(80.0)
    left = 100 / (1 + (3.0 + 0.1 * np.arange(10)) ** 2 / 36)
    assert trial.match_se == pytest.approx(np.sqrt(0.9 * np.sum((left - left.mean()) ** 2)))
    assert [part["weight"] for part in parts_as_scored(state.trials[1], state.details[1], OWN)] == list(OWN.in_order())


def test_what_was_stored_stays_and_comes_back_without_the_weights() -> None:
    state = after(measured(details()), OPTED_IN)
    assert state.trials[1].match == pytest.approx(shipped_score())
    back = state.after(Event("sheet changed", {"sheet": sheet_to_tables(SHEET)}, AT))
    assert back.study == after(measured(details())).study
    assert back.study.trial(1).match_se == 1.0


def test_the_goal_follows_too_and_a_new_goal_reference_brings_its_steps() -> None:
    goal = {"goal_parts": parts((2.0,) * 7), "goal_parts_without": ROWS}
    state = after(measured(details(**goal), goal=shipped_score((2.0,) * 7)), OPTED_IN)
    assert state.study.trial(1).goal == pytest.approx(90.0)  # dynamics alone, 2 steps
    newer = {"goal_parts": parts((6.0,) * 7), "goal_parts_without": ROWS}
    body = {"trial": 1, "changes": {"goal": shipped_score((6.0,) * 7)}, "details": newer}
    assert state.after(Event("amended", body, AT)).study.trial(1).goal == pytest.approx(50.0)
    without = {"trial": 1, "changes": {"goal": 33.0}}
    assert state.after(Event("amended", without, AT)).study.trial(1).goal == 33.0


@pytest.mark.parametrize(
    ("kept", "match", "why"),
    [
        (details(measure_version="0"), None, "version 0 of the measure"),
        (details(measure_version=None), None, "version None of the measure"),
        (details(parts_without=None), None, "not all of its steps"),
        (details(parts=parts()[:6]), None, "not all of its steps"),
        (details(), 61.0, "typed in"),
        ({}, None, "no recordings"),
    ],
)
def test_scores_whose_steps_are_not_at_hand_stay_and_it_is_said_why(
    kept: dict[str, Any], match: float | None, why: str
) -> None:
    score = shipped_score() if match is None else match
    state = after(measured(kept, match=score), OPTED_IN)
    assert state.study.trial(1).match == score
    assert state.study.trial(1).match_se == 1.0
    assert why in why_kept(state.trials[1], state.details[1], "match")
    assert why_kept(state.trials[1], state.details[1], "goal") == ""


anything = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=3) | st.just(10**400),
    lambda inner: (
        st.lists(inner, max_size=7) | st.dictionaries(st.sampled_from(["name", "steps", "weight"]), inner, max_size=3)
    ),
    max_leaves=12,
)


@given(kept=st.dictionaries(st.sampled_from(["parts", "parts_without", "goal_parts"]), anything, max_size=3))
def test_details_of_any_shape_leave_a_study_readable(kept: dict[str, Any]) -> None:
    trial = Trial({"gain": 3}, number=1, match=61.0, goal=50.0)
    body = {"trial": trial_to_json(trial), "details": {**kept, "measure_version": MEASURE_VERSION}}
    assert after(Event("measured", body, AT), OPTED_IN).study.trial(1).match == 61.0
