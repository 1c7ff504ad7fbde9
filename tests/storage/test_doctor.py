"""The doctor finds what is wrong, mends only what loses nothing, and leaves a healthy store as it is."""

import hashlib
import os
import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from optimiser.errors import StorageError
from optimiser.storage import Store, open_store
from optimiser.study import Event
from optimiser.workflow import doctor, fault_of_doctor
from tests.storage.hunts import NOW, add_trials, begin, filled

LONG_AGO = time.time() - 7200


def found(store: Store, *, fix: bool = False) -> list[tuple[str, str]]:
    return [(finding["weight"], finding["about"]) for finding in doctor(store, fix=fix)["findings"]]


def changed(store: Store, words: str) -> None:
    """What some other program does to the database behind the store's back."""
    with store.connections.database.writing() as connection, connection.begin():
        connection.execute(text(words))


@pytest.fixture
def hunt(url: str, tmp_path: Path) -> Iterator[Store]:
    with open_store(url) as store:
        filled(store, tmp_path)
        yield store


def test_a_healthy_store_is_said_to_be_so(hunt: Store) -> None:
    view = doctor(hunt, fix=True)
    assert view["findings"] == []
    assert fault_of_doctor(view) is None
    assert (view["studies"], view["events"], view["recordings"]["count"]) == (1, 5, 1)
    assert view["engine"].startswith(("SQLite 3.", "PostgreSQL "))


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("DELETE FROM event WHERE number = 3", "Event 3 of combo is missing"),
        ("DELETE FROM event WHERE number IN (2, 3)", "Events 2 to 3 of combo are missing"),
        ("DELETE FROM event", "Combo has no events"),
        ("UPDATE event SET body = '{' WHERE number = 2", "Event 2 of combo cannot be read"),
        ("UPDATE event SET kind = 'danced' WHERE number = 2", "combo cannot be put together"),
        ("UPDATE event SET body = '{}' WHERE number = 2", "combo cannot be put together"),
    ],
)
def test_events_that_are_missing_or_cannot_be_read_are_faults(hunt: Store, words: str, says: str) -> None:
    changed(hunt, words)
    for fix in (False, True):
        view = doctor(hunt, fix=fix)
        (finding,) = view["findings"]
        assert (finding["weight"], finding["about"]) == ("fault", "events")
        assert says.lower() in finding["message"].lower()
        assert "optimiser recover" in finding["hint"]
        fault = fault_of_doctor(view)
        assert isinstance(fault, StorageError)
        assert fault.message.startswith("1 fault found")


def test_a_recording_that_is_missing_or_damaged_is_a_fault_until_it_is_put_back(hunt: Store) -> None:
    (kept,) = hunt.audio.entries()
    path = hunt.audio.path(kept.sha256)
    whole = path.read_bytes()
    for damage in (whole[:-1], whole[:-1] + b"?", None):
        path.unlink()
        if damage is not None:
            path.write_bytes(damage)
        (finding,) = doctor(hunt, fix=True)["findings"]
        assert (finding["weight"], finding["about"]) == ("fault", "recordings")
        assert ("missing" if damage is None else "damaged") in finding["message"]
        assert str(path) in finding["message"]
        path.write_bytes(whole)
        assert found(hunt) == []


def test_handing_a_damaged_recording_in_again_mends_it(hunt: Store, tmp_path: Path) -> None:
    (kept,) = hunt.audio.entries()
    hunt.audio.path(kept.sha256).write_bytes(b"?" * kept.bytes)
    hunt.audio.keep(tmp_path / "goal.wav")
    assert found(hunt) == []


def test_a_recording_that_nothing_names_is_entered_and_never_removed(hunt: Store) -> None:
    content = b"a take that was cut off"
    sha256 = hashlib.sha256(content).hexdigest()
    path = hunt.audio.folder / sha256[:2] / sha256
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(content)
    assert found(hunt) == [("remark", "recordings")]
    assert found(hunt, fix=True) == [("mended", "recordings")]
    assert found(hunt) == []
    assert hunt.audio.path(sha256).read_bytes() == content


def test_what_is_no_recording_is_left_alone(hunt: Store) -> None:
    stray = hunt.audio.folder / "ab" / "notes.txt"
    stray.parent.mkdir(exist_ok=True)
    stray.write_text("mine")
    assert found(hunt, fix=True) == [("remark", "recordings")]
    assert stray.read_text() == "mine"


def test_a_recording_of_a_trial_that_is_not_entered_is_entered(hunt: Store) -> None:
    changed(hunt, "DELETE FROM audio")
    assert found(hunt)[0] == ("fault", "recordings")
    assert ("fault", "recordings") not in found(hunt, fix=True)
    assert found(hunt) == []


def test_leftovers_are_removed_when_they_are_old(hunt: Store) -> None:
    old, new = hunt.audio.folder / "incoming" / "old", hunt.audio.folder / "incoming" / "new"
    beside = (hunt.site.file or hunt.site.audio).parent
    left = [old, new, beside / ".gig.db.0123456789abcdef.new"]
    work = beside / ".recovering-abc"
    work.mkdir()
    os.utime(work, (LONG_AGO, LONG_AGO))
    for path in left:
        path.write_bytes(b"half")
        if path != new:
            os.utime(path, (LONG_AGO, LONG_AGO))
    assert found(hunt) == [("remark", "leftovers")] * 3
    assert old.exists()
    assert found(hunt, fix=True) == [("mended", "leftovers")] * 3
    assert found(hunt) == []
    assert new.read_bytes() == b"half"
    assert not work.exists()


def test_a_writer_that_holds_the_store_is_told(url: str, hunt: Store) -> None:
    with open_store(url, wait_s=0.1) as second, hunt.writing():
        caught: list[Any] = []
        thread = threading.Thread(target=lambda: caught.append(found(second)))
        thread.start()
        thread.join()
    assert caught == [[("remark", "lock")]]


def test_a_damaged_page_is_found_wherever_it_lies(tmp_path: Path) -> None:
    """Every page in turn is spoilt: the doctor says so, or refuses the store; the file stays as it is."""
    place = tmp_path / "studies.db"
    with open_store(str(place)) as store:
        begin(store)
        add_trials(store, 4)
    whole = place.read_bytes()
    for page in range(len(whole) // 4096):
        spoilt = whole[: page * 4096] + b"\xa5" * 4096 + whole[(page + 1) * 4096 :]
        place.write_bytes(spoilt)
        try:
            with open_store(str(place), create=False) as store:
                assert fault_of_doctor(doctor(store, fix=True)) is not None, page
        except StorageError as error:
            assert "damaged" in error.message
        assert place.read_bytes() == spoilt


def test_a_row_that_belongs_to_nothing_is_found(tmp_path: Path) -> None:
    place = tmp_path / "studies.db"
    with open_store(str(place)) as store:
        begin(store)
    with closing(sqlite3.connect(place)) as connection, connection:
        connection.execute("UPDATE event SET study_id = 77")
    with open_store(str(place)) as store:
        assert "belongs to nothing" in doctor(store, fix=False)["findings"][0]["message"]


def test_a_study_whose_trials_fit_nothing_is_told_with_its_name(hunt: Store) -> None:
    with hunt.writing():
        hunt.append("combo", Event("voided", {"trial": 99}, NOW.isoformat()))
    (finding,) = doctor(hunt, fix=False)["findings"]
    assert "combo" in finding["message"]
