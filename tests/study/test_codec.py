"""JSON there and back, and seeds."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.errors import BadInput, OptimiserError
from optimiser.study import (
    Study,
    Trial,
    canonical_json,
    load_sheet,
    seed_of,
    study_from_json,
    study_to_json,
    trial_from_json,
)

SHEET = load_sheet('[study]\nname = "a"\n[settings.gain]\nkind = "knob"\nlow = 0\nhigh = 10\n')
trials = st.builds(
    Trial,
    st.floats(-20, 20).map(lambda gain: {"gain": gain}),
    overall=st.floats(allow_nan=False, allow_infinity=False),
    match=st.none() | st.floats(0, 100),
    reading=st.none() | st.floats(0, 10),
    day=st.none() | st.dates().map(str),
    state=st.sampled_from(["measured", "failed", "void"]),
    note=st.text(),
)


@given(st.lists(trials, max_size=5).map(tuple))
def test_a_study_survives_json(many: tuple[Trial, ...]) -> None:
    study = Study(SHEET, many)
    text = canonical_json(study_to_json(study))
    assert study_from_json(json.loads(text)) == study
    assert seed_of(study_from_json(json.loads(text))) == seed_of(study)


def test_the_seed_follows_from_the_trials_alone() -> None:
    one = Study(SHEET, (Trial({"gain": 3}, overall=1),))
    assert seed_of(one) == seed_of(Study(SHEET, (Trial({"gain": "3.0"}, overall=1.0),)))
    assert seed_of(one) != seed_of(one.with_trial(Trial({"gain": 3}, overall=1)))
    assert seed_of(one) != seed_of(replace(one, sheet=replace(SHEET, title="b")))


@pytest.mark.parametrize(
    "entries", [{}, {"settings": 3}, {"settings": {}, "overal": 3}, {"settings": {}, "overall": "x"}]
)
def test_entries_that_are_no_trial_are_refused(entries: dict[str, object]) -> None:
    with pytest.raises(BadInput) as caught:
        trial_from_json(entries)
    assert isinstance(caught.value, OptimiserError)
    assert caught.value.hint
