"""The present state of a study follows from what happened, and nothing that happened is lost."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.errors import InvalidSettings, InvalidTrial, NotFound
from optimiser.study import Event, Study, StudyState, Trial, fold, load_sheet, sheet_to_tables, trial_to_json

SHEET = load_sheet(
    '[study]\nname = "a"\n[settings.gain]\nkind = "knob"\nscale = "clock"\nlow = "8:00"\nhigh = "17:00"\n'
    '[settings.stage]\nkind = "stage"\nsteps = ["open", "full"]\n[reading]\n'
)
AT = "2026-03-02T10:00:00+00:00"
STARTED = Event("started", {"sheet": sheet_to_tables(SHEET)}, AT)
PROPOSED = Event("proposed", {"proposal": {"trial": 1, "settings": {"gain": 12.0, "stage": "open"}}}, AT)


def measured(number: int, **figures: float) -> Event:
    trial = Trial({"gain": "1:00", "stage": "full"}, number=number, day="2026-03-02", **figures)  # type: ignore[arg-type]
    return Event("measured", {"trial": trial_to_json(trial), "details": {"advice": ["thin"]}}, AT)


def replace_trial(proposed: Event, number: int) -> Event:
    return replace(proposed, body={"proposal": {**proposed.body["proposal"], "trial": number}})


def test_a_trial_is_asked_for_made_amended_struck_out_and_restored() -> None:
    events = [STARTED, PROPOSED]
    assert fold(events).study.trial(1).state == "waiting"
    events.append(measured(1, match=80.0, articulation_kept=0.9))
    state = fold(events)
    assert state.study.trial(1).settings == {"gain": 13.0, "stage": "full"}
    assert state.proposals[1]["settings"]["stage"] == "open"
    assert state.details[1] == {"advice": ["thin"]}
    events.append(Event("amended", {"trial": 1, "changes": {"reading": 6.5}}, AT, reason="forgot it"))
    assert fold(events).study.trial(1).reading == 6.5
    assert fold(events).study.trial(1).match == 80.0
    events.append(Event("voided", {"trial": 1}, AT))
    assert fold(events).study.trial(1).state == "void"
    events.append(Event("restored", {"trial": 1}, AT))
    assert fold(events).study.trial(1).state == "measured"


def test_a_declined_or_failed_proposal_is_kept_as_such() -> None:
    assert fold([STARTED, PROPOSED, Event("declined", {"trial": 1}, AT)]).study.trial(1).state == "declined"
    failed = Trial({"gain": 12.0, "stage": "open"}, number=1, state="failed")
    assert (
        fold([STARTED, PROPOSED, Event("failed", {"trial": trial_to_json(failed)}, AT)]).study.trial(1).state
        == "failed"
    )


def test_a_withdrawn_proposal_is_gone_and_its_number_is_not_given_again() -> None:
    state = fold([STARTED, measured(1, match=80.0), replace_trial(PROPOSED, 2)])
    after = state.after(Event("withdrawn", {"trial": 2, "undoes": 3}, AT))
    assert [trial.number for trial in after.study.trials] == [1]
    assert (state.next_number, after.next_number) == (3, 3)
    with pytest.raises(NotFound):
        after.after(Event("withdrawn", {"trial": 2}, AT))


@given(
    earlier=st.lists(st.sampled_from(["measured", "failed", "voided", "declined"]), max_size=4),
    last=st.sampled_from(["measured", "failed"]),
)
def test_a_trial_that_is_unmade_is_all_that_it_was_before(earlier: list[str], last: str) -> None:
    """Made, failed, struck out and made again in any order: with its newest take gone, the study is as before that."""

    def of(kind: str, place: int) -> Event:
        if kind in ("voided", "declined"):
            return Event(kind, {"trial": 2}, AT)
        trial = Trial({"gain": 9 + place, "stage": "full"}, number=2, overall=50.0 + place, state=kind, note=f"{place}")
        return Event(kind, {"trial": trial_to_json(trial), "asked": {"gain": 12.0}, "details": {"advice": [kind]}}, AT)

    before = fold([STARTED, measured(1, match=50.0), replace_trial(PROPOSED, 2)])
    for place, kind in enumerate(earlier):
        before = before.after(of(kind, place))
    made = before.after(of(last, 7)).after(Event("heard", {"trial": 2, "correct": 1, "tries": 5, "finished": True}, AT))
    assert made.study.trial(2).note == "7"
    assert made.after(Event("unmade", {"trial": 2}, AT)) == before
    with pytest.raises(NotFound):
        before.after(Event("unmade", {"trial": 1}, AT))


def test_an_older_store_keeps_a_take_struck_out_that_was_taken_back() -> None:
    """Before `unmade` there was, undo struck it out; what was done then stands."""
    events = [STARTED, PROPOSED, measured(1, match=50.0), Event("voided", {"trial": 1, "undoes": 3, "with": [3]}, AT)]
    assert [(trial.state, trial.match) for trial in fold(events).study.trials] == [("void", 50.0)]


def test_a_goal_that_is_taken_back_leaves_the_one_before() -> None:
    goals = [{"sha256": f"{number}" * 64} for number in (1, 2)]
    events = [Event("goal recorded", {"goal": goal}, AT) for goal in goals]
    back = Event("goal recorded", {"goal": goals[0], "undoes": 3}, AT)
    assert fold([STARTED, *events, back]).goals == (goals[0],)
    first = fold([STARTED, events[0], Event("goal recorded", {"goal": None, "undoes": 2}, AT)])
    assert first == fold([STARTED])


def test_a_new_sheet_keeps_the_trials() -> None:
    wider = replace(SHEET, title="wider", trials_planned=30)
    state = fold([STARTED, measured(1, match=80.0), Event("sheet changed", {"sheet": sheet_to_tables(wider)}, AT)])
    assert state.study.sheet.trials_planned == 30
    assert state.study.trial(1).match == 80.0


def test_a_goal_reference_makes_the_goal_count() -> None:
    state = fold([STARTED, measured(1, match=80.0, articulation_kept=0.9)])
    assert state.study.overall(state.study.trial(1)) is not None
    with_goal = state.after(Event("goal recorded", {"goal": {"sha256": "0" * 64}}, AT))
    assert with_goal.study.overall(with_goal.study.trial(1)) is None
    assert [part.name for part in with_goal.study.parts(with_goal.study.trial(1))] == ["match", "goal", "articulation"]


@pytest.mark.parametrize("event", [Event("voided", {"trial": 3}, AT), Event("danced", {}, AT)])
def test_events_that_cannot_be_are_refused(event: Event) -> None:
    with pytest.raises(NotFound):
        fold([STARTED, event])
    with pytest.raises(NotFound):
        fold([])


def test_figures_and_settings_that_cannot_be_are_refused() -> None:
    for wrong in ({"reading": 11.0}, {"match": -1.0}):
        with pytest.raises(InvalidTrial):
            _ = fold([STARTED, measured(1, **wrong)]).study
    with pytest.raises(InvalidSettings):
        Study(SHEET, (Trial({"gain": "1:00", "stage": "fulll"}, match=80.0),))
    with pytest.raises(InvalidTrial):
        Study(
            SHEET,
            (
                Trial({"gain": 9, "stage": "open"}, match=1, number=2),
                Trial({"gain": 9, "stage": "open"}, match=1, number=2),
            ),
        )
    with pytest.raises(InvalidTrial, match="needs a figure"):
        Trial({"gain": 9, "stage": "open"})


@given(kinds=st.lists(st.sampled_from(["measured", "voided", "restored", "amended", "sheet changed"]), max_size=12))
def test_folding_step_by_step_or_at_once_gives_the_same_state(kinds: list[str]) -> None:
    events = [STARTED, measured(1, match=50.0)]
    for place, kind in enumerate(kinds):
        event = measured(place + 2, match=60.0) if kind == "measured" else Event(kind, {"trial": 1}, AT)
        if kind == "amended":
            event = Event(kind, {"trial": 1, "changes": {"ear": float(place % 10)}}, AT)
        if kind == "sheet changed":
            event = Event(kind, {"sheet": sheet_to_tables(replace(SHEET, title=f"version {place}"))}, AT)
        events.append(event)
    state: StudyState = fold(events[:1])
    for event in events[1:]:
        state = state.after(event)
    assert state == fold(events)
    assert state.study == fold(events).study
    assert len(state.study.trials) == 1 + kinds.count("measured")
