"""Days: one sitting each, begun with a check where that pays, and told apart from the settings."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from optimiser.storage import Store, open_store
from optimiser.study import fold
from optimiser.workflow import (
    Answer,
    Stamp,
    Wish,
    all_studies,
    log,
    next_trials,
    reviewed,
    start,
    study_view,
    trials_view,
)

SHEET = """
[study]
name = "days"
timezone = "Pacific/Auckland"
[settings.gain]
kind = "knob"
scale = "clock"
low = "8:00"
high = "17:00"
[settings.stage]
kind = "stage"
steps = ["open", "pushed", "full"]
"""
EVENING = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)
"""20:00 of the same date in Auckland, which is 13 hours ahead in March (time-zone database)."""


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(f"sqlite:///{tmp_path / 'store.db'}") as opened:
        start(opened, SHEET, Stamp(EVENING))
        yield opened


def _worth(settings: dict[str, object]) -> float:
    stage = {"open": 0.0, "pushed": 6.0, "full": 2.0}[str(settings["stage"])]
    return 60.0 + stage - 1.5 * (float(str(settings["gain"])) - 12.0) ** 2


def _hunt(store: Store, trials: int, at: datetime, shift: float = 0.0) -> list[str]:
    """Make trials ten minutes apart as they are proposed, and give the kinds of the proposals."""
    kinds = []
    for place in range(trials):
        stamp = Stamp(at + timedelta(minutes=10 * place))
        proposal = next_trials(store, "days", Wish(), stamp)["proposals"][0]
        wobble = 0.3 * (-1) ** proposal["trial"]
        figures = {"overall": _worth(proposal["settings"]) + shift + wobble}
        log(store, "days", Answer(proposal["trial"], figures=figures), stamp)
        kinds.append(proposal["kind"])
    return kinds


def _day(store: Store, at: datetime) -> str | None:
    log(store, "days", Answer(settings={"gain": "12:00", "stage": "open"}, figures={"overall": 50.0}), Stamp(at))
    return fold(store.events("days")).study.trials[-1].day


@pytest.mark.parametrize(
    ("later", "day"),
    [
        (timedelta(minutes=20), "2026-03-02"),
        (timedelta(hours=11), "2026-03-03"),
        (timedelta(days=-1), "2026-03-02"),
        (timedelta(days=35), "2026-04-06"),
    ],
)
def test_a_day_is_a_sitting_in_the_studys_own_time_zone(store: Store, later: timedelta, day: str) -> None:
    """Also when the clock was set back, and past the end of summer time (5 April 2026 in New Zealand)."""
    assert _day(store, EVENING) == "2026-03-02"
    assert _day(store, EVENING + later) == day


def test_work_past_midnight_stays_in_its_sitting(store: Store) -> None:
    late = EVENING + timedelta(hours=3, minutes=50)
    assert [_day(store, late + timedelta(minutes=20 * place)) for place in range(3)] == ["2026-03-02"] * 3
    assert _day(store, late + timedelta(hours=9)) == "2026-03-03"


def test_a_new_day_may_begin_with_a_check_of_the_best_and_never_asks_twice(store: Store) -> None:
    kinds = _hunt(store, 8, EVENING)
    assert "check" not in kinds
    morning = Stamp(EVENING + timedelta(hours=14))
    proposal = next_trials(store, "days", Wish(), morning)["proposals"][0]
    assert proposal["kind"] == "check"
    assert "what today reads high or low by" in proposal["reason"]
    best = max(fold(store.events("days")).study.trials[:8], key=lambda trial: trial.overall or 0.0)
    assert _worth(proposal["settings"]) >= _worth(dict(best.settings)) - 1.0
    other = next_trials(store, "days", Wish(other=True), morning)["proposals"][0]
    assert other["kind"] != "check"


def test_a_day_that_reads_low_is_told_and_taken_off(store: Store) -> None:
    """Five points low from the second morning on: told within its error, and the best trial is judged without them."""
    _hunt(store, 8, EVENING)
    _hunt(store, 6, EVENING + timedelta(hours=14), shift=-5.0)
    view = reviewed(store, "days", None, Stamp(EVENING + timedelta(hours=16)), lambda _: None)
    first, second = view["outlook"]["days"]
    assert (first["day"], first["trials"], second["day"], second["trials"]) == ("2026-03-02", 8, "2026-03-03", 6)
    assert second["linked"]
    assert second["shift"] - first["shift"] == pytest.approx(-5.0, abs=2.0 * (first["shift_se"] + second["shift_se"]))
    assert "low" in second["shown"]
    by_number = {trial["trial"]: trial for trial in view["trials"]}
    assert by_number[14]["levelled"] == pytest.approx(by_number[14]["overall"] - second["shift"])
    assert view["best"]["trial"] == max(by_number.values(), key=lambda trial: trial["levelled"])["trial"]


def test_the_highest_trial_is_the_same_wherever_it_is_told(store: Store) -> None:
    """The second day reads eight points low, so what was better there was measured lower."""
    made = [("open", 10.0), ("pushed", 10.0), ("pushed", 14.0), ("full", 12.0), ("open", 12.0), ("full", 9.0)]
    better = [("open", 10.0), ("pushed", 10.0), ("pushed", 12.0), ("full", 12.0), ("open", 12.0)]
    for hours, shift, settings in ((0, 0.0, made), (14, -8.0, better)):
        for stage, gain in settings:
            chosen = {"stage": stage, "gain": gain}
            said = Answer(settings=chosen, figures={"overall": _worth(chosen) + shift})
            log(store, "days", said, Stamp(EVENING + timedelta(hours=hours)))
    view = reviewed(store, "days", None, Stamp(EVENING + timedelta(hours=16)), lambda _: None)
    page = study_view(store, "days")
    raw = max(view["trials"], key=lambda trial: trial["overall"])
    assert raw["day"] == "2026-03-02"
    assert view["best"]["day"] == "2026-03-03"
    assert page["best_trial"] == page["best_shown"]["trial"] == view["best"]["trial"]
    assert page["best"] == page["best_shown"]["levelled"] == view["best"]["levelled"] > view["best"]["overall"]
    told = {trial["trial"]: trial["levelled"] for trial in trials_view(store, "days")["trials"]}
    assert told == {trial["trial"]: trial["levelled"] for trial in view["trials"]}
    measured = {trial["trial"]: trial["overall"] for trial in trials_view(store, "days")["trials"]}
    assert all_studies(store)["studies"][0]["best"] == max(measured.values())


def test_trials_of_one_day_are_told_of_no_shift(store: Store) -> None:
    _hunt(store, 5, EVENING)
    assert next_trials(store, "days", Wish(), Stamp(EVENING))["outlook"]["days"] == []
    told = trials_view(store, "days")["trials"]
    assert [trial["levelled"] for trial in told] == [trial["overall"] for trial in told]
    assert all_studies(store)["studies"][0]["best"] == max(trial["overall"] or 0.0 for trial in told)
