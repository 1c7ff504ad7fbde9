"""A study knows its proof reels apart, keeps every goal reference, and holds none against a take of another reel."""

from typing import Any

import pytest

from optimiser.study import Event, StudyState, fold, goes_with, load_sheet, sheet_to_tables, sum_of_layout

AT = "2026-03-02T10:00:00+00:00"
SHEET = load_sheet('[study]\nname = "a"\n[settings.gain]\nkind = "knob"\nlow = 0\nhigh = 10\n')
STARTED = Event("started", {"sheet": sheet_to_tables(SHEET)}, AT)


def reel(*riffs: str, kind: str = "proof", rate_hz: int = 48_000, riff_s: float = 1.0001) -> Event:
    """A reel of riffs that lie on whole samples of its rate."""
    length_s = round(riff_s * rate_hz) / rate_hz
    passages = [
        {"name": name, "kind": "riff", "start_s": place * length_s, "end_s": (place + 1) * length_s}
        for place, name in enumerate(riffs)
    ]
    seconds = passages[-1]["end_s"] if passages else 0.0
    body = {"kind": kind, "riffs": list(riffs), "rate_hz": rate_hz, "seconds": seconds}
    return Event("reel made", {"reel": {**body, "layout": {"passages": passages}}}, AT)


def goal(number: int, of: str | None) -> Event:
    kept: dict[str, Any] = {"sha256": f"{number:064}", "reel": of}
    return Event("goal recorded", {"goal": kept}, AT)


def state_of(*events: Event) -> StudyState:
    return fold([STARTED, *events])


@pytest.mark.parametrize(
    ("other", "count"),
    [
        (reel("a", "b"), 1),
        (reel("a", "b", rate_hz=44_100), 1),
        (reel("a", "b", "c"), 2),
        (reel("b", "a"), 2),
        (reel("a", "b", riff_s=1.02), 2),
        (reel("a", "b", "c", kind="verify"), 1),
        (reel(), 1),
    ],
)
def test_a_reel_is_another_when_other_riffs_or_other_times_are_played(other: Event, count: int) -> None:
    state = state_of(reel("a", "b"), other)
    assert len(state.proof_reels) == count
    assert next(iter(state.proof_reels)) == sum_of_layout(reel("a", "b").body["reel"]["layout"])


def test_the_reel_made_last_stands_last_under_its_old_name() -> None:
    first, second = state_of(reel("a", "b")).proof_reels, state_of(reel("a", "b"), reel("a", "b", "c")).proof_reels
    again = state_of(reel("a", "b"), reel("a", "b", "c"), reel("a", "b", rate_hz=96_000))
    assert list(again.proof_reels) == list(second)[::-1] == [list(second)[1], *first]
    assert again.reels["proof"]["rate_hz"] == 96_000


def test_every_goal_reference_is_kept_and_the_newest_counts_as_the_study_s() -> None:
    state = state_of(goal(1, None), goal(2, "x"))
    assert [int(kept["sha256"]) for kept in state.goals] == [1, 2]
    assert state.goal == state.goals[1]
    assert state.study.has_goal
    assert state_of().goal is None


def test_a_goal_goes_with_takes_of_its_own_reel_and_with_those_of_which_nothing_is_known() -> None:
    known, unknown = goal(1, "x").body["goal"], goal(1, None).body["goal"]
    assert [goes_with(known, of) for of in ("x", "y", None)] == [True, False, True]
    assert all(goes_with(unknown, of) for of in ("x", "y", None))
    assert goes_with({"sha256": "written before reels were"}, "x")
