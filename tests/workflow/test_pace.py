"""A trial's own minutes are kept, so that effort and what is left follow the study's pace."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from optimiser.storage import open_store
from optimiser.study import fold
from optimiser.workflow import Answer, Stamp, Wish, log, next_trials, outlook_of, start

SHEET = """
[study]
name = "pace"
minutes_per_trial = 5
[settings.gain]
kind = "knob"
low = 0
high = 10
effort_minutes = 0
"""
TEN = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("waited", "kept"),
    [(timedelta(minutes=9), 9.0), (timedelta(seconds=5), None), (timedelta(days=1), None), (timedelta(-1), None)],
)
def test_minutes_since_the_proposal_unless_there_was_a_break(
    tmp_path: Path, waited: timedelta, kept: float | None
) -> None:
    """Figures written down at once, a night between, or a clock set back tell nothing of the pace."""
    with open_store(f"sqlite:///{tmp_path / 'store.db'}") as store:
        start(store, SHEET, Stamp(TEN))
        next_trials(store, "pace", Wish(), Stamp(TEN))
        log(store, "pace", Answer(figures={"overall": 50.0}), Stamp(TEN + waited))
        assert fold(store.events("pace")).study.trial(1).minutes == kept


def test_a_slow_pace_plans_fewer_trials_into_the_same_time(tmp_path: Path) -> None:
    with open_store(f"sqlite:///{tmp_path / 'store.db'}") as store:
        start(store, SHEET, Stamp(TEN))
        assert len(next_trials(store, "pace", Wish(minutes=30), Stamp(TEN))["proposals"]) == 6
        at = TEN
        for number in range(1, 7):
            at += timedelta(minutes=20)
            log(store, "pace", Answer(trial=number, figures={"overall": 50.0 + number}), Stamp(at))
        planned = next_trials(store, "pace", Wish(minutes=30), Stamp(at))
        assert len(planned["proposals"]) == 2
        assert planned["outlook"]["minutes_left"] == pytest.approx((20 - 6) * planned["minutes"] / 2)


def test_what_is_left_of_the_plan_is_what_a_session_of_all_of_it_takes(tmp_path: Path) -> None:
    """One figure in `next`, `plan` and `review`, hands on the chain included."""
    with open_store(f"sqlite:///{tmp_path / 'store.db'}") as store:
        start(store, SHEET.replace("effort_minutes = 0", "effort_minutes = 3"), Stamp(TEN))
        first = next_trials(store, "pace", Wish(), Stamp(TEN))
        assert first["outlook"]["minutes_left"] == pytest.approx(20 * 5 + 20 * 3)
        at = TEN
        for number in range(1, 16):
            at += timedelta(minutes=8)
            next_trials(store, "pace", Wish(), Stamp(at))
            log(store, "pace", Answer(trial=number, figures={"overall": 50.0 - number % 7}), Stamp(at))
        planned = next_trials(store, "pace", Wish(count=5), Stamp(at))
        assert planned["outlook"]["minutes_left"] == pytest.approx(planned["minutes"])
        assert outlook_of(store, "pace")["minutes_left"] == pytest.approx(planned["minutes"])
