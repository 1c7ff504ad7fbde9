"""Sessions and blind tests as the store keeps them."""

import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from optimiser.errors import BadUse, NotFound
from optimiser.storage import Store, open_store

NOW = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)


def test_a_device_is_known_by_its_secret_until_its_time_is_over_or_it_is_revoked(store: Store) -> None:
    phone = store.sessions.add("secret of the phone", "phone", NOW, NOW + timedelta(days=90))
    desk = store.sessions.add("secret of the desk", "desk", NOW + timedelta(seconds=1), NOW + timedelta(days=1))
    assert store.sessions.find("secret of the phone", NOW) == phone
    assert store.sessions.find("secret of the desk", NOW + timedelta(days=1)) is None
    assert store.sessions.find("another", NOW) is None
    assert store.sessions.find("\ud800", NOW) is None
    assert [session.id for session in store.sessions.all()] == [phone.id, desk.id]
    store.sessions.revoke(phone.id)
    assert store.sessions.find("secret of the phone", NOW) is None
    with pytest.raises(NotFound):
        store.sessions.revoke(phone.id)


def test_secrets_are_not_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "studies.db"
    with open_store(str(path)) as store:
        store.sessions.add("this-must-not-be-read", "phone", NOW, NOW + timedelta(days=90))
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    assert b"this-must-not-be-read" not in path.read_bytes()


def test_a_blind_test_takes_its_answers_in_turn_and_each_once(store: Store) -> None:
    test = store.blind_tests.add("combo", 3, 5, (0.5, 8.0), NOW)
    assert set(test.hidden) <= {"a", "b"}
    for number, right in enumerate(test.hidden, start=1):
        with pytest.raises(BadUse, match="takes no answer"):
            store.blind_tests.answer("combo", test.id, number + 1, "a")
        told = store.blind_tests.answer("combo", test.id, number, right)
        assert store.blind_tests.answer("combo", test.id, number, right) == told
        with pytest.raises(BadUse, match="takes no answer"):
            store.blind_tests.answer("combo", test.id, number, "ab".replace(right, ""))
    assert (told.state, told.correct) == ("finished", 5)
    assert store.blind_tests.stop("combo", test.id).state == "finished"
    with pytest.raises(NotFound):
        store.blind_tests.get("other", test.id)


def test_what_x_is_comes_up_even(store: Store) -> None:
    """1,000 tries: the number of references is that of a fair coin, but for one run in a thousand."""
    from scipy.stats import binomtest

    drawn = "".join(store.blind_tests.add("combo", 1, 100, (0.0, 8.0), NOW).hidden for _ in range(10))
    assert binomtest(drawn.count("a"), 1000, 0.5).pvalue > 0.001


def test_changes_of_all_studies_come_in_one_order(store: Store) -> None:
    from optimiser.study import Event

    before = store.place()
    store.start("other", Event("started", {"sheet": {}}, "2026-03-02T10:00:00+00:00"))
    with store.writing():
        store.append("combo", Event("voided", {"trial": 1}, "2026-03-02T10:00:01+00:00"))
    told = store.changes(before)
    assert [(change.study, change.event, change.kind) for change in told] == [
        ("other", 1, "started"),
        ("combo", 2, "voided"),
    ]
    assert store.place() == told[-1].place
    assert store.changes(store.place()) == ()
    assert len(store.changes(0, most=1)) == 1
