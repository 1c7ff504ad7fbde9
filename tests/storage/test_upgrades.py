"""A step to a later schema: wholly or not at all, after a verified copy, whenever it is cut off."""

import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from sqlalchemy import create_engine, inspect, text
from sqlalchemy.pool import NullPool

from optimiser.errors import StorageError
from optimiser.storage import open_store, schema
from optimiser.storage.snapshot import verified
from optimiser.workflow import Stamp, recover
from tests.storage.hunts import NOW, filled
from tests.storage.next_schema import adopt, write_steps

ROOT = Path(__file__).parents[2]
KEPT = sorted((Path(__file__).parent / "old_databases").glob("*.db"))
NEWER = """
import sys
from pathlib import Path
import alembic.command
import sqlalchemy
from optimiser.storage import open_store
from tests.storage.next_schema import adopt
adopt(Path(sys.argv[2]), sys.argv[3])
print("ready", flush=True)
open_store(sys.argv[1]).close()
print("done", flush=True)
"""


@pytest.fixture
def newer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """This process becomes a newer program."""
    steps = tmp_path / "steps"
    version = write_steps(steps)
    monkeypatch.setattr(schema, "NEWEST", schema.NEWEST)
    monkeypatch.setattr(schema, "_MIGRATIONS", schema._MIGRATIONS)
    adopt(steps, version)
    return version


def state(url: str) -> str:
    """`old` or `new`, when the database is wholly the one or the other."""
    engine = create_engine(url, poolclass=NullPool)
    with engine.connect() as connection:
        version = connection.execute(text("SELECT version_num FROM schema_version")).scalar_one()
        tables = set(inspect(connection).get_table_names())
        columns = {column["name"] for column in inspect(connection).get_columns("event")}
    engine.dispose()
    signs = {"later" in tables, "weight" in columns, version != schema.NEWEST}
    assert len(signs) == 1, (version, tables, columns)
    assert not [name for name in tables if "alembic" in name]
    return "new" if signs == {True} else "old"


def copies(folder: Path, version: str) -> list[Path]:
    found = folder.rglob(f"*.schema-{version}*")
    return sorted(path for path in found if path.suffix != ".lock" and not path.name.startswith("."))


def test_before_an_upgrade_a_verified_copy_lies_beside_the_store(
    url: str, tmp_path: Path, newer: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    older = f"{int(newer) - 1:04d}"
    with monkeypatch.context() as patch:
        patch.setattr(schema, "NEWEST", older)
        patch.setattr(schema, "_MIGRATIONS", Path(schema.__file__).with_name("migrations"))
        with open_store(url) as store:
            filled(store, tmp_path)
            before = store.census()
            is_file = store.site.file is not None
    with open_store(url) as store:
        assert store.facts()["schema"] == newer
        assert store.census() == before
    (copy,) = copies(tmp_path, older)
    assert copy.name.endswith(f".schema-{older}")
    assert verified(copy, "the copy") == before
    if is_file:
        assert copy == tmp_path / f"studies.db.schema-{older}"
    shutil.copyfile(copy, tmp_path / "again.db")
    with open_store(str(tmp_path / "again.db")) as store:
        assert store.census() == before
    with open_store(url) as store:
        assert store.census() == before
    assert len(copies(tmp_path, older)) == 2


@pytest.mark.usefixtures("newer")
def test_a_damaged_store_is_not_upgraded(tmp_path: Path) -> None:
    place = tmp_path / "studies.db"
    shutil.copyfile(KEPT[-1], place)
    data = bytearray(place.read_bytes())
    page = data.index(b"porch-amp") // 4096
    data[page * 4096 : page * 4096 + 4096] = b"\xa5" * 4096
    place.write_bytes(data)
    with pytest.raises(StorageError, match="damaged"):
        open_store(str(place))
    assert place.read_bytes() == data


def test_a_store_of_every_schema_is_upgraded_and_copied_first(tmp_path: Path, newer: str) -> None:
    for kept in KEPT:
        place = tmp_path / f"{kept.stem}-kept.db"
        shutil.copyfile(kept, place)
        with open_store(str(place)) as store:
            assert [study.events for study in store.census()] == [4, 1]
            assert store.facts()["schema"] == newer
        (copy,) = [path for path in tmp_path.glob(f"{place.name}.schema-*") if path.suffix != ".lock"]
        assert copy.name == f"{place.name}.schema-{kept.stem[-4:]}"
        assert copy.read_bytes() == kept.read_bytes() or verified(copy, "the copy")


def test_a_backup_of_an_older_schema_is_recovered_as_a_newer_store(tmp_path: Path, newer: str) -> None:
    for kept in KEPT:
        place = tmp_path / f"{kept.stem}.db"
        before = kept.read_bytes()
        recover(kept, str(place), Stamp(NOW), lambda _: None)
        assert kept.read_bytes() == before
        with open_store(str(place), create=False) as store:
            assert store.facts()["schema"] == newer
            assert [study.events for study in store.census()] == [4, 1]


def test_without_room_for_the_copy_nothing_is_upgraded(
    tmp_path: Path, newer: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Full:
        free = 1000

    place = tmp_path / "studies.db"
    shutil.copyfile(KEPT[-1], place)
    with monkeypatch.context() as patch:
        patch.setattr("shutil.disk_usage", lambda _: Full)
        with pytest.raises(StorageError, match="no room left"):
            open_store(str(place))
    assert place.read_bytes() == KEPT[-1].read_bytes()
    with open_store(str(place)) as store:
        assert store.facts()["schema"] == newer


@pytest.mark.ci
def test_an_upgrade_that_is_killed_at_twenty_moments_is_wholly_there_or_not_at_all(url: str, tmp_path: Path) -> None:
    """Moments drawn over the time that an upgrade takes; `test_every_call.py` kills at every call instead."""
    steps = tmp_path / "steps"
    version = write_steps(steps)
    draw = random.Random(20260305)  # noqa: S311
    seen = []
    for turn in range(20):
        with open_store(url) as store:
            if turn == 0:
                filled(store, tmp_path)
            before = store.census()
        words = [sys.executable, "-c", NEWER, url, str(steps), version]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, cwd=ROOT) as child:
            assert child.stdout is not None
            assert child.stdout.readline() == "ready\n"
            time.sleep(draw.uniform(0.0, 0.6))
            child.send_signal(signal.SIGKILL)
            said = child.stdout.read()
        seen.append(state(url))
        assert seen[-1] == "new" or "done" not in said
        subprocess.run(words, check=True, cwd=ROOT, stdout=subprocess.DEVNULL)
        assert state(url) == "new"
        taken_back(url)
        with open_store(url) as store:
            assert store.census() == before
        assert all(verified(copy, "the copy") for copy in copies(tmp_path, schema.NEWEST))
    sys.stdout.write(f"20 upgrades killed: {seen.count('old')} old, {seen.count('new')} new\n")


def taken_back(url: str) -> None:
    """The older schema again, for the next turn."""
    engine = create_engine(url, poolclass=NullPool)
    with engine.begin() as connection:
        connection.execute(text("DROP TABLE later"))
        connection.execute(text("ALTER TABLE event DROP COLUMN weight"))
        connection.execute(text(f"UPDATE schema_version SET version_num = '{schema.NEWEST}'"))  # noqa: S608
    engine.dispose()
