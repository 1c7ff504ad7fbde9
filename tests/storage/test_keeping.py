"""Backups, recovery and the move to another place, on every kind of database."""

import json
import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from optimiser.errors import BadUse, NotFound, StorageError
from optimiser.storage import Store, open_store
from optimiser.study import Event, fold
from optimiser.workflow import Stamp, backup, fault_of_copy, history, move, recover, undo
from tests.storage.hunts import NOW, add_trials, begin, filled, keep_recording

STAMP = Stamp(NOW, "tester")
PAGE_BYTES = 4096


def silent(_: str) -> None:
    pass


def backed_up(store: Store, file: Path, *, replace: bool = False) -> dict[str, object]:
    return backup(store, file, replace=replace, tell=silent)


def files_below(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_a_backup_is_a_store_that_holds_the_same(url: str, tmp_path: Path) -> None:
    with open_store(url) as store:
        sha256 = filled(store, tmp_path)
        begin(store, "bass")
        view = backed_up(store, tmp_path / "kept.db")
        before = store.census()
        events = store.events("combo")
    assert view["recordings"]["copied"] == 1  # type: ignore[index]
    with open_store(str(tmp_path / "kept.db"), create=False) as kept:
        assert kept.census() == before
        assert kept.events("combo") == events
        assert kept.audio.path(sha256).read_bytes() == b"the wanted tone" * 1000
        add_trials(kept, 1, "bass")
    with open_store(url) as store:
        assert store.census() == before


def test_a_backup_is_never_written_over_what_lies_there(url: str, tmp_path: Path) -> None:
    (tmp_path / "other.db").write_bytes(b"something of yours")
    (tmp_path / "folder").mkdir()
    with open_store(url) as store:
        filled(store, tmp_path)
        before = files_below(tmp_path)
        for place, says in (("other.db", "already"), ("folder", "is a folder"), ("no/such.db", "no folder")):
            with pytest.raises((BadUse, StorageError), match=says) as caught:
                backed_up(store, tmp_path / place)
            assert caught.value.hint
        with pytest.raises(BadUse, match="not a whole backup"):
            backed_up(store, tmp_path / "other.db", replace=True)
        if store.site.file is not None:
            with pytest.raises(BadUse, match="store itself"):
                backed_up(store, store.site.file, replace=True)
    assert files_below(tmp_path).items() >= before.items()
    assert not [name for name in files_below(tmp_path) if ".new" in name]


def test_an_older_backup_is_replaced_only_by_one_that_holds_it_all(url: str, tmp_path: Path) -> None:
    kept = tmp_path / "kept.db"
    with open_store(url) as store:
        filled(store, tmp_path)
        backed_up(store, kept)
        with open_store(str(kept)) as older:
            assert older.study_names() == ("combo",)  # a reader leaves files of SQLite beside it
        add_trials(store, 5)
        view = backed_up(store, kept, replace=True)
        assert view["recordings"]["copied"] == 0  # type: ignore[index]
        assert view["recordings"]["known"] == 1  # type: ignore[index]
    with open_store(str(kept)) as older:
        add_trials(older, 6)
    with closing(sqlite3.connect(kept, isolation_level=None)) as used:
        used.execute("UPDATE study SET created_at = 'now'")
        with open_store(url) as store, pytest.raises(BadUse, match="is in use"):
            backed_up(store, kept, replace=True)
    before = kept.read_bytes()
    with open_store(url) as store, pytest.raises(BadUse, match="holds what this store does not: combo"):
        backed_up(store, kept, replace=True)
    assert kept.read_bytes() == before


def test_a_recording_that_is_lost_keeps_nobody_from_a_backup_and_is_told(url: str, tmp_path: Path) -> None:
    with open_store(url) as store:
        sha256 = filled(store, tmp_path)
        store.audio.path(sha256).write_bytes(b"not what it was")
        view = backed_up(store, tmp_path / "kept.db")
    fault = fault_of_copy(view)
    assert isinstance(fault, StorageError)
    assert "goal.wav" in fault.message
    with open_store(str(tmp_path / "kept.db"), create=False) as kept:
        assert len(fold(kept.events("combo")).study.trials) == 3


def test_a_damaged_recording_in_a_backup_is_written_anew(store: Store, tmp_path: Path) -> None:
    sha256 = keep_recording(store, tmp_path / "a.wav", b"abc" * 100)
    backed_up(store, tmp_path / "kept.db")
    copy = tmp_path / "kept.db.audio" / sha256[:2] / sha256
    copy.write_bytes(b"xyz" * 100)
    assert backed_up(store, tmp_path / "kept.db", replace=True)["recordings"]["copied"] == 1  # type: ignore[index]
    assert copy.read_bytes() == b"abc" * 100


def test_a_backup_that_finds_no_room_is_not_there(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Full:
        free = 1000

    with monkeypatch.context() as patch:
        patch.setattr("shutil.disk_usage", lambda _: Full)
        with pytest.raises(StorageError, match="no room left"):
            backed_up(store, tmp_path / "kept.db")
    assert not [name for name in files_below(tmp_path) if "kept" in name]


def test_a_backup_goes_on_elsewhere(url: str, tmp_path: Path) -> None:
    """Recovered on another machine, where there is nothing yet."""
    (tmp_path / "elsewhere").mkdir()
    with open_store(url) as store:
        sha256 = filled(store, tmp_path)
        backed_up(store, tmp_path / "kept.db")
        before = store.census()
    stick = files_below(tmp_path)
    view = recover(tmp_path / "kept.db", str(tmp_path / "elsewhere" / "new.db"), STAMP, silent)
    assert view["whole"]
    assert view["moved"] is None
    assert files_below(tmp_path).items() >= stick.items()
    with open_store(str(tmp_path / "elsewhere" / "new.db"), create=False) as new:
        assert new.census() == before
        assert new.audio.path(sha256).is_file()
        add_trials(new, 4)
    assert not list((tmp_path / "elsewhere").glob(".*"))


def test_a_backup_goes_onto_a_server_beside_what_is_there(url: str, tmp_path: Path) -> None:
    with open_store(str(tmp_path / "one.db")) as store:
        filled(store, tmp_path)
        backed_up(store, tmp_path / "kept.db")
        before = store.census()
    with open_store(url) as there:
        begin(there, "bass")
        on_server = there.site.file is None
    view = recover(tmp_path / "kept.db", url, STAMP, silent)
    with open_store(url) as there:
        names = [study.name for study in there.census()]
        assert names == (["bass", "combo"] if on_server else ["combo"])
        assert there.census()[-1] == before[0]
    assert (view["moved"] is None) == on_server


def test_a_new_machine_needs_no_folder_made_by_hand(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open_store(str(tmp_path / "one.db")) as store:
        sha256 = filled(store, tmp_path)
        backed_up(store, tmp_path / "kept.db")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "fresh"))
    recover(tmp_path / "kept.db", None, STAMP, silent)
    with open_store(create=False) as store:
        assert store.study_names() == ("combo",)
        assert store.audio.path(sha256).is_relative_to(tmp_path / "fresh")


def test_what_a_killed_backup_left_is_removed_by_the_next(store: Store, tmp_path: Path) -> None:
    left, fresh = (tmp_path / f".kept.db.{digit * 16}.new" for digit in "ab")
    for path in (left, fresh):
        path.write_bytes(b"half")
    os.utime(left, (0, 0))
    begin(store, "bass")
    backed_up(store, tmp_path / "kept.db")
    assert not left.exists()
    assert fresh.exists()


def test_what_lay_in_the_place_is_moved_aside_with_its_log(tmp_path: Path) -> None:
    place = tmp_path / "studies.db"
    with open_store(str(place)) as store:
        filled(store, tmp_path)
        backed_up(store, tmp_path / "kept.db")
        add_trials(store, 6)
        later = store.census()
    view = recover(tmp_path / "kept.db", str(place), STAMP, silent)
    aside = Path(view["moved"]["file"])
    assert aside.name == "studies.db.before-2026-03-02-100000"
    with open_store(str(aside), create=False) as old:
        assert old.census() == later
    with open_store(str(place), create=False) as store:
        assert store.census()[0].events == 5
    assert recover(tmp_path / "kept.db", str(place), STAMP, silent)["moved"]["file"].endswith(".2")


@pytest.mark.parametrize("content", [b"", b"no store at all" * 500], ids=["empty", "text"])
def test_a_place_that_holds_something_else_is_moved_aside_too(tmp_path: Path, content: bytes) -> None:
    with open_store(str(tmp_path / "one.db")) as store:
        filled(store, tmp_path)
        backed_up(store, tmp_path / "kept.db")
    (tmp_path / "studies.db").write_bytes(content)
    (tmp_path / "studies.db-wal").write_bytes(b"a log of something else")
    view = recover(tmp_path / "kept.db", str(tmp_path / "studies.db"), STAMP, silent)
    aside = Path(view["moved"]["file"])
    assert aside.read_bytes() == content
    assert Path(f"{aside}-wal").read_bytes() == b"a log of something else"
    with open_store(str(tmp_path / "studies.db"), create=False) as store:
        assert store.study_names() == ("combo",)


def test_what_cannot_be_recovered_from_is_told_and_nothing_changes(tmp_path: Path) -> None:
    with open_store(str(tmp_path / "studies.db")) as store:
        filled(store, tmp_path)
        backed_up(store, tmp_path / "newer.db")
    with closing(sqlite3.connect(tmp_path / "newer.db")) as connection, connection:
        connection.execute("UPDATE schema_version SET version_num = '0999'")
    with closing(sqlite3.connect(tmp_path / "recipes.db")) as connection, connection:
        connection.execute("CREATE TABLE recipe (name TEXT)")
    (tmp_path / "text.db").write_text("no store at all" * 500)
    (tmp_path / "empty.db").write_bytes(b"")
    before = files_below(tmp_path)
    for name, says in (
        ("newer.db", "newer optimiser"),
        ("recipes.db", "other than studies"),
        ("text.db", "damaged or is not a store"),
        ("empty.db", "holds no studies"),
    ):
        with pytest.raises(StorageError, match=says):
            recover(tmp_path / name, str(tmp_path / "studies.db"), STAMP, silent)
    with pytest.raises(NotFound):
        recover(tmp_path / "missing.db", str(tmp_path / "studies.db"), STAMP, silent)
    with pytest.raises(BadUse):
        recover(tmp_path, str(tmp_path / "studies.db"), STAMP, silent)
    with pytest.raises(StorageError, match="no folder"):
        recover(tmp_path / "newer.db", str(tmp_path / "no" / "studies.db"), STAMP, silent)
    assert files_below(tmp_path) == before


def page_with(data: bytes, text: bytes) -> int:
    (page,) = {place // PAGE_BYTES for place in range(len(data)) if data.startswith(text, place)}
    return page


def spoil(file: Path, page: int) -> None:
    data = bytearray(file.read_bytes())
    data[page * PAGE_BYTES : (page + 1) * PAGE_BYTES] = b"\xa5" * PAGE_BYTES
    file.write_bytes(data)


def test_a_lost_trial_leaves_its_place_and_all_others_stand(tmp_path: Path) -> None:
    place = tmp_path / "studies.db"
    with open_store(str(place)) as store:
        sha256 = filled(store, tmp_path, trials=12)
        before = store.events("combo")
    spoil(place, page_with(place.read_bytes(), b"note of trial 7 "))
    damaged = place.read_bytes()
    view = recover(place, str(place), STAMP, silent)
    assert not view["whole"]
    assert view["lost"] == [{"study": "combo", "events": [8], "unfit": []}]
    assert Path(view["moved"]["file"]).read_bytes() == damaged
    with open_store(str(place), create=False) as store:
        after = store.events("combo")
        assert [(event.kind, event.number) for event in after if event.number == 8] == [("lost", 8)]
        assert [event for event in after if event.number != 8] == [event for event in before if event.number != 8]
        assert [trial.number for trial in fold(after).study.trials] == [n for n in range(1, 13) if n != 7]
        assert store.audio.path(sha256).is_file()
        assert [kept.sha256 for kept in store.audio.entries()] == [sha256]
        assert "damaged" in history(store, "combo")["events"][7]["reason"]
        undo(store, "combo", STAMP)
        add_trials(store, 14)


def test_a_study_without_its_start_goes_on_from_the_next_sheet_that_can_be_read(tmp_path: Path) -> None:
    from optimiser.storage import SalvagedStudy
    from optimiser.workflow.salvaging import mended

    with open_store(str(tmp_path / "studies.db")) as store:
        filled(store, tmp_path, trials=2)
        events = {event.number: event for event in store.events("combo")}
    sheet = events[1].body["sheet"]
    lost_start = {number: event for number, event in events.items() if number > 1}
    assert mended(SalvagedStudy("combo", "", lost_start), STAMP) is None
    later = Event("sheet changed", {"sheet": sheet}, NOW.isoformat(), number=5)
    made = mended(SalvagedStudy("combo", "", {**lost_start, 5: later}), STAMP)
    assert made is not None
    assert made.lost == (1,)
    assert [event.kind for event in made.events] == [
        "started",
        "measured",
        "measured",
        "goal recorded",
        "sheet changed",
    ]
    assert len(fold(made.events).study.trials) == 2


def test_an_event_that_lost_what_it_speaks_of_is_kept_and_counts_for_nothing() -> None:
    from optimiser.storage import SalvagedStudy
    from optimiser.study import load_sheet, sheet_to_tables
    from optimiser.workflow.salvaging import mended
    from tests.storage.hunts import SHEET

    begin_ = Event("started", {"sheet": sheet_to_tables(load_sheet(SHEET.format(name="combo")))}, NOW.isoformat())
    void = Event("voided", {"trial": 1}, NOW.isoformat(), key="k", number=3)
    odd = Event("a kind of tomorrow", {"x": 1}, NOW.isoformat(), number=4)
    made = mended(SalvagedStudy("combo", "", {1: begin_, 3: void, 4: odd}), STAMP)
    assert made is not None
    assert (made.lost, made.unfit) == ((2,), (3, 4))
    assert made.events[2].body["was"]["body"] == {"trial": 1}
    assert made.events[2].key == "k"
    assert fold(made.events).study.trials == ()


def test_what_is_read_without_a_sheet_is_written_beside_the_store(tmp_path: Path) -> None:
    place = tmp_path / "studies.db"
    with open_store(str(place)) as store:
        begin(store, "bass")
        filled(store, tmp_path, trials=12)
        store.start("odd", Event("started", {"sheet": {"nonsense": 1}}, NOW.isoformat()))
    spoil(place, page_with(place.read_bytes(), b"note of trial 5 "))
    view = recover(place, str(place), STAMP, silent)
    (left,) = json.loads(Path(view["left_over"]).read_text())
    assert left["study"] == "odd"
    assert left["events"][0]["body"] == {"sheet": {"nonsense": 1}}
    with open_store(str(place), create=False) as store:
        assert store.study_names() == ("bass", "combo")


def test_an_event_missing_in_a_sound_file_is_mended_too(tmp_path: Path) -> None:
    place = tmp_path / "studies.db"
    with open_store(str(place)) as store:
        filled(store, tmp_path)
    with closing(sqlite3.connect(place)) as connection, connection:
        connection.execute("DELETE FROM event WHERE number = 3")
        connection.execute("UPDATE event SET body = '{cut off' WHERE number = 2")
    with open_store(str(place)) as store, pytest.raises(StorageError, match="cannot be read and 1 more"):
        backed_up(store, tmp_path / "kept.db")
    assert not (tmp_path / "kept.db").exists()
    assert recover(place, str(place), STAMP, silent)["lost"] == [{"study": "combo", "events": [2, 3], "unfit": []}]
    with open_store(str(place)) as store:
        backed_up(store, tmp_path / "kept.db")


def test_the_newest_trials_in_the_log_of_a_crashed_store_are_recovered(tmp_path: Path) -> None:
    place, crashed = tmp_path / "studies.db", tmp_path / "crashed.db"
    with open_store(str(place)) as store:
        filled(store, tmp_path)
        with store.writing():
            store.append("combo", Event("reel made", {"reel": {"kind": "proof"}}, NOW.isoformat()))
            shutil.copyfile(place, crashed)
            shutil.copyfile(f"{place}-wal", f"{crashed}-wal")
        before = store.census()
    stick = files_below(tmp_path)
    view = recover(crashed, str(tmp_path / "new.db"), STAMP, silent)
    assert view["whole"]
    assert files_below(tmp_path).items() >= stick.items()
    with open_store(str(tmp_path / "new.db"), create=False) as store:
        assert store.census() == before


def test_a_store_moves_there_and_back_and_stays_the_same(url: str, tmp_path: Path) -> None:
    first, last = str(tmp_path / "first.db"), str(tmp_path / "last.db")
    with open_store(first) as store:
        begin(store, "bass")
        sha256 = filled(store, tmp_path)
        before = store.census()
        view = move(store, url, None, silent)
        assert [study["name"] for study in view["added"]] == ["bass", "combo"]
        assert store.census() == before
        again = move(store, url, None, silent)
        assert (again["added"], again["known"]) == ([], ["bass", "combo"])
    with open_store(url, create=False) as there:
        assert there.census() == before
        assert there.audio.path(sha256).is_file()
        move(there, last, None, silent)
        add_trials(there, 5)
    with open_store(last, create=False) as store:
        assert store.census() == before
        assert store.audio.path(sha256).read_bytes() == b"the wanted tone" * 1000


def test_a_store_is_not_moved_onto_other_studies_of_the_same_name(url: str, tmp_path: Path) -> None:
    with open_store(url) as there:
        begin(there)
        begin(there, "bass")
        add_trials(there, 1)
        before = there.census()
    with open_store(str(tmp_path / "first.db")) as store:
        filled(store, tmp_path)
        begin(store, "acoustic")
        with pytest.raises(BadUse, match="other studies called combo"):
            move(store, url, None, silent)
        with pytest.raises(BadUse, match="store itself"):
            move(store, str(tmp_path / "first.db"), None, silent)
    with open_store(url) as there:
        assert there.census() == before


def test_a_folder_of_recordings_can_be_named_for_the_new_place(url: str, tmp_path: Path) -> None:
    with open_store(str(tmp_path / "first.db")) as store:
        sha256 = filled(store, tmp_path)
        move(store, url, tmp_path / "shelf of the studio", silent)
    with open_store(url, audio=tmp_path / "shelf of the studio") as there:
        assert there.audio.path(sha256).parents[1] == tmp_path / "shelf of the studio"


def test_a_move_that_goes_wrong_leaves_no_study_behind(
    url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from optimiser.storage import copying

    with open_store(str(tmp_path / "first.db")) as store:
        begin(store, "bass")
        filled(store, tmp_path)
        real = copying._copy_study

        def forgetting(source: object, target: object, name: str) -> None:
            real(source, target, name)  # type: ignore[arg-type]
            if name == "combo":
                target.execute(copying.insert(copying.STUDY).values(name="x", created_at=""))  # type: ignore[attr-defined]
                raise OSError(28, "No space left on device")

        monkeypatch.setattr(copying, "_copy_study", forgetting)
        with pytest.raises(StorageError, match="no room left"):
            move(store, url, None, silent)
    with open_store(url) as there:
        assert there.study_names() == ()
