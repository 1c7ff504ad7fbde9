"""Several trials at once: minutes are those of the walk told, within the time, and nothing is declined unsaid."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise, permutations
from pathlib import Path
from typing import Any, Final

import pytest

from optimiser.errors import BadUse
from optimiser.storage import Store, open_store
from optimiser.study import Event, StudyState, fold
from optimiser.workflow import Answer, Stamp, Wish, log, next_trials, replayed, reviewed, start, study_view
from optimiser.workflow.walking import waiting

MINUTES: Final = {"gain": 0.5, "stage": 0.25, "mic": 6.0}
EACH: Final = 4.0
SHEET = f"""
[study]
name = "walks"
minutes_per_trial = {EACH}
[settings.gain]
kind = "knob"
scale = "clock"
low = "8:00"
high = "17:00"
effort_minutes = {MINUTES["gain"]}
[settings.stage]
kind = "stage"
steps = ["open", "pushed", "full"]
effort_minutes = {MINUTES["stage"]}
[settings.mic]
kind = "mic"
spots = ["cap", "edge", "cone"]
effort_minutes = {MINUTES["mic"]}
"""
AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Four trials made, one of which gave no capture."""
    with open_store(f"sqlite:///{tmp_path / 'store.db'}") as opened:
        start(opened, SHEET, Stamp(AT))
        for turn in range(4):
            proposal = _next(opened, Wish(), turn)["proposals"][0]
            figures = {"overall": 60.0 + 5 * (proposal["settings"]["stage"] == "pushed") + 0.3 * turn}
            failed = turn == 3
            answer = Answer(proposal["trial"], None, {} if failed else figures, "", failed)
            log(opened, "walks", answer, Stamp(AT + timedelta(minutes=10 * turn)))
        yield opened


def _next(store: Store, wish: Wish, turn: int = 5) -> dict[str, Any]:
    return next_trials(store, "walks", wish, Stamp(AT + timedelta(minutes=10 * turn)))


def _handling(before: Mapping[str, Any], after: Mapping[str, Any]) -> float:
    """By hand: the sheet's minutes of all that stands otherwise."""
    return sum(cost for name, cost in MINUTES.items() if before[name] != after[name])


def _stops(store: Store, view: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Where the chain stands, then every arrangement in the order told."""
    last = study_view(store, "walks")["last"]
    return [last["settings"], *(proposal["settings"] for proposal in view["proposals"])]


@pytest.mark.parametrize("wish", [Wish(count=6), Wish(minutes=45.0)], ids=["six at once", "45 minutes"])
def test_each_says_what_changes_from_the_one_before_it_and_no_order_takes_less(store: Store, wish: Wish) -> None:
    """Also where some wait already from an earlier batch."""
    _next(store, Wish(count=3))
    view = _next(store, wish)
    stops = _stops(store, view)
    assert len(stops) > 4
    told = [proposal["effort_minutes"] for proposal in view["proposals"]]
    assert told == pytest.approx([_handling(before, after) for before, after in pairwise(stops)])
    since = [proposal["since_trial"] for proposal in view["proposals"]]
    assert since == [4, *(proposal["trial"] for proposal in view["proposals"][:-1])]
    assert view["minutes"] == pytest.approx(EACH * len(told) + sum(told))
    walks = (sum(_handling(a, b) for a, b in pairwise([stops[0], *walk])) for walk in permutations(stops[1:]))
    assert sum(told) == pytest.approx(min(walks))
    assert [proposal["trial"] for proposal in study_view(store, "walks")["proposals"]][: len(told)] == [
        proposal["trial"] for proposal in view["proposals"]
    ]


@pytest.mark.parametrize("minutes", [10.0, 20.0, 45.0, 120.0])
def test_a_session_fits_into_its_time_and_leaves_nothing_waiting_beyond_it(store: Store, minutes: float) -> None:
    view = _next(store, Wish(minutes=minutes))
    assert view["minutes"] <= minutes
    assert len(study_view(store, "walks")["proposals"]) == len(view["proposals"])


def test_what_takes_longer_than_the_time_leaves_is_held(store: Store) -> None:
    view = _next(store, Wish(minutes=6.0))
    (proposal,) = view["proposals"]
    assert view["held_for_time"] == ["mic"]
    assert proposal["held"] == []
    assert proposal["settings"]["mic"] == study_view(store, "walks")["last"]["settings"]["mic"]
    assert view["minutes"] <= 6.0
    assert replayed(store, "walks", proposal["trial"])["same"]


def test_the_time_is_filled_with_the_slow_setting_held(store: Store) -> None:
    """One move of the mic takes longer than a trial: there is room for a trial more without it than with it."""
    view = _next(store, Wish(minutes=4 * EACH + 3.0))
    assert len(view["proposals"]) == 4
    assert view["minutes_given"] - view["minutes"] < EACH
    assert all(replayed(store, "walks", proposal["trial"])["same"] for proposal in view["proposals"])


def test_what_waits_is_offered_where_nothing_fits(store: Store) -> None:
    first = _next(store, Wish())["proposals"][0]["trial"]
    assert [proposal["trial"] for proposal in _next(store, Wish(minutes=1.0))["proposals"]] == [first]
    assert len(study_view(store, "walks")["proposals"]) == 1


def test_at_most_so_many_as_were_asked_for_fill_the_time(store: Store) -> None:
    assert len(_next(store, Wish(count=2, minutes=120.0))["proposals"]) == 2


def test_a_trial_that_no_longer_comes_first_is_told(store: Store) -> None:
    """The mic of the one that waits has to be moved, those of others not."""
    stands = study_view(store, "walks")["last"]["settings"]["mic"]
    away = next(spot for spot in ("cap", "edge", "cone") if spot != stands)
    first = _next(store, Wish(locked={"mic": away}))
    assert first["came_first"] is None
    more = _next(store, Wish(count=6))
    assert more["proposals"][0]["settings"]["mic"] == stands
    assert more["came_first"] == first["proposals"][0]["trial"]


def test_a_check_comes_first_whatever_the_walk(store: Store) -> None:
    """It is to be made before anything new; the others follow along the shortest walk from it."""
    _next(store, Wish(count=4))
    state = fold(store.events("walks"))
    *_, last = waiting(state)
    proposals = {**state.proposals, last: {**state.proposals[last], "kind": "check"}}
    first, *others = waiting(replace(state, proposals=proposals))
    assert first == last
    walks = permutations(others)
    assert _along(state, [first, *others]) == pytest.approx(min(_along(state, [first, *walk]) for walk in walks))


def _along(state: StudyState, numbers: Sequence[int]) -> float:
    settings = [state.study.trial(number).settings for number in numbers]
    return sum(_handling(before, after) for before, after in pairwise(settings))


def test_nothing_is_kept_outside_the_sheet(store: Store) -> None:
    with pytest.raises(BadUse, match="gain cannot be kept at 7:30"):
        _next(store, Wish(locked={"gain": "7:30"}))


def test_a_trial_that_cannot_fit_is_given_with_the_minutes_that_it_takes(store: Store) -> None:
    view = _next(store, Wish(minutes=2.0))
    assert len(view["proposals"]) == 1
    assert view["minutes"] > view["minutes_given"] == 2.0


def test_more_time_goes_on_from_what_waits(store: Store) -> None:
    first = _next(store, Wish(minutes=10.0))["proposals"]
    more = _next(store, Wish(minutes=60.0))
    assert {proposal["trial"] for proposal in first} <= {proposal["trial"] for proposal in more["proposals"]}
    assert more["minutes"] <= 60.0
    assert all(replayed(store, "walks", proposal["trial"])["same"] for proposal in more["proposals"])


def test_another_declines_what_was_handed_out_and_no_more(store: Store) -> None:
    waiting = [proposal["trial"] for proposal in _next(store, Wish(count=5))["proposals"]]
    view = _next(store, Wish(other=True))
    assert view["put_aside"] == [{"trial": waiting[0], "reason": "another was asked for"}]
    assert view["proposals"][0]["trial"] in waiting[1:]
    assert [event.trial for event in _declined(store)] == waiting[:1]


def test_a_lock_says_what_it_puts_aside_and_what_it_holds(store: Store) -> None:
    waiting = [proposal["trial"] for proposal in _next(store, Wish(count=3))["proposals"]]
    view = _next(store, Wish(locked={"gain": "12:17"}))
    assert sorted(one["trial"] for one in view["put_aside"]) == sorted(waiting)
    assert view["proposals"][0]["held"] == ["gain"]


def test_what_waits_does_not_change_the_outlook(store: Store) -> None:
    """The outlook told with a proposal is the one that a review gives afterwards, to the last digit."""
    told = _next(store, Wish(count=2))["outlook"]
    assert reviewed(store, "walks", None, Stamp(AT + timedelta(hours=2)), lambda _: None)["outlook"] == told


def test_no_reason_argues_from_a_run_that_gave_nothing(store: Store) -> None:
    """The last trial failed and stands nearest to whatever keeps the mic."""
    view = _next(store, Wish(count=6))
    nearest = {proposal["nearest"] for proposal in view["proposals"]} - {None}
    assert nearest
    assert 4 not in nearest


def _declined(store: Store) -> list[Event]:
    return [event for event in store.events("walks") if event.kind == "declined"]
