"""The queue of long runs: one worker each, taken up again when a worker is lost, never stuck, never doubled."""

from datetime import UTC, datetime, timedelta

import pytest

from optimiser.errors import BadUse, NotFound
from optimiser.storage import LEASE_S, Store
from optimiser.storage.jobs import MOST_TRIES

NOW = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)


def later(seconds: float) -> datetime:
    return NOW + timedelta(seconds=seconds)


def test_jobs_are_taken_up_in_turn_by_one_worker_each(store: Store) -> None:
    first = store.jobs.add("take", "combo", {"reference": "a"}, NOW)
    second = store.jobs.add("measure", "", {}, NOW)
    taken = [store.jobs.take_up(worker, NOW) for worker in ("ada", "ben", "cy")]
    assert [job and job.id for job in taken] == [first.id, second.id, None]
    assert store.jobs.get(first.id).body == {"reference": "a"}
    assert store.jobs.finish(first.id, "ada", NOW, {"match": 71.5})
    assert store.jobs.get(first.id).result == {"match": 71.5}
    assert store.jobs.get(first.id).state == "done"
    assert not store.jobs.finish(second.id, "ada", NOW, {})


def test_the_same_key_asks_once(store: Store) -> None:
    first = store.jobs.add("take", "combo", {}, NOW, key="k")
    assert store.jobs.add("take", "combo", {}, later(1), key="k") == first
    assert store.jobs.add("take", "other", {}, NOW, key="k") != first
    with pytest.raises(BadUse, match="another change"):
        store.jobs.add("goal", "combo", {}, NOW, key="k")


def test_a_silent_worker_loses_its_job_and_its_late_answer_is_refused(store: Store) -> None:
    job = store.jobs.add("take", "combo", {}, NOW)
    store.jobs.take_up("ada", NOW)
    assert store.jobs.take_up("ben", later(LEASE_S - 1)) is None
    assert store.jobs.report(job.id, "ada", later(LEASE_S - 1), "measuring")
    assert store.jobs.get(job.id).progress == "measuring"
    assert store.jobs.take_up("ben", later(LEASE_S + 1)) is None
    taken = store.jobs.take_up("ben", later(2 * LEASE_S))
    assert taken is not None
    assert (taken.id, taken.worker, taken.tries) == (job.id, "ben", 2)
    assert not store.jobs.report(job.id, "ada", later(2 * LEASE_S))
    assert not store.jobs.finish(job.id, "ada", later(2 * LEASE_S), {"match": 1})


def test_what_kills_its_worker_again_and_again_fails_and_the_next_goes_on(store: Store) -> None:
    bad, good = (store.jobs.add("take", "combo", {}, NOW) for _ in range(2))
    for _ in range(MOST_TRIES):
        taken = store.jobs.take_up("ada", NOW)
        assert taken is not None
        assert taken.id == bad.id
        store.jobs.let_go("ada", NOW)
    taken = store.jobs.take_up("ada", NOW)
    assert taken is not None
    assert taken.id == good.id
    failed = store.jobs.get(bad.id)
    assert failed.state == "failed"
    assert failed.result is not None
    assert failed.result["error"]["code"] == "worker_lost"


def test_a_service_that_is_stopped_and_started_costs_a_job_nothing(store: Store) -> None:
    job = store.jobs.add("take", "combo", {}, NOW)
    for turn in range(3 * MOST_TRIES):
        taken = store.jobs.take_up(f"worker {turn}", NOW)
        assert taken is not None
        assert taken.id == job.id
        store.jobs.let_go(f"worker {turn}", NOW, on_purpose=True)


@pytest.mark.parametrize("days", [-1, 1])
def test_a_clock_that_is_moved_leaves_no_job_stuck(store: Store, days: int) -> None:
    job = store.jobs.add("take", "combo", {}, NOW)
    store.jobs.take_up("ada", NOW)
    taken = store.jobs.take_up("ben", NOW + timedelta(days=days))
    assert taken is not None
    assert taken.id == job.id


def test_an_unknown_job_is_told(store: Store) -> None:
    for odd in ("0" * 32, "", "\0", "\ud800", "x" * 10_000):
        with pytest.raises(NotFound):
            store.jobs.get(odd)
