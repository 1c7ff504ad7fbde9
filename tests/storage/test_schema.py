"""Every schema ever released opens; a newer one is refused; the tables are what the steps make."""

import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from optimiser.errors import StorageError
from optimiser.storage import open_store
from optimiser.storage.schema import NEWEST, VERSION_TABLE
from optimiser.study import Event

AT = "2026-03-02T10:00:00+00:00"
OLD = sorted((Path(__file__).parent / "old_databases").glob("*.db"))
ROOT = Path(__file__).parents[2]
STEPS = ROOT / "optimiser" / "storage" / "migrations"


def test_a_database_of_every_schema_is_kept() -> None:
    assert [path.stem for path in OLD] == [f"schema_{number:04d}" for number in range(1, int(NEWEST) + 1)]


@pytest.mark.parametrize("kept", OLD, ids=lambda path: path.stem)
def test_a_database_of_an_older_schema_opens_with_all_that_is_in_it(tmp_path: Path, kept: Path) -> None:
    path = tmp_path / "studies.db"
    shutil.copyfile(kept, path)
    with open_store(str(path)) as store:
        assert store.study_names() == ("porch-amp", "barn-bass")
        events = store.events("porch-amp")
        assert [event.number for event in events] == [1, 2, 3, 4]
        assert [event.kind for event in events] == ["started", "proposed", "measured", "amended"]
        assert events[0].key == "begin"
        assert list(events[0].body["sheet"]["settings"]) == ["gain", "air", "stage"]
        assert events[2].body["trial"] == {
            "trial": 1,
            "match": 71.30000000000001,
            "settings": {"gain": 13.5, "stage": "pushed"},
        }
        assert events[3].reason == "Zahl verlesen – 6½, nicht 5"
        assert [event.kind for event in store.events("barn-bass")] == ["started"]
        with store.writing():
            assert store.append("porch-amp", Event("voided", {"trial": 1}, AT))[0].number == 5
            assert store.append("porch-amp", Event("started", {}, AT, key="begin"))[0] == events[0]
    connection = sqlite3.connect(path)
    assert connection.execute("SELECT version_num FROM schema_version").fetchone() == (NEWEST,)
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert connection.execute("SELECT bytes, kind, name FROM audio").fetchall() == [(11, "recording", "porch.wav")]
    connection.close()


def test_the_newest_schema_is_the_last_step() -> None:
    from alembic.script import ScriptDirectory

    assert ScriptDirectory(str(STEPS)).get_heads() == [NEWEST]


def test_the_steps_make_the_tables_that_the_program_knows(url: str) -> None:
    """By Alembic's own comparison of a database with the tables in the program."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext
    from sqlalchemy import create_engine

    from optimiser.storage.tables import METADATA

    open_store(url).close()
    engine = create_engine(url)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"version_table": VERSION_TABLE})
        assert compare_metadata(context, METADATA) == []
    engine.dispose()


def test_the_database_itself_refuses_a_second_event_of_one_number_or_key(url: str) -> None:
    from sqlalchemy import create_engine, insert
    from sqlalchemy.exc import IntegrityError

    from optimiser.storage.tables import EVENT

    with open_store(url) as store:
        store.start("combo", Event("started", {}, AT, key="k"))
    engine = create_engine(url)
    row = {"study_id": 1, "kind": "", "at": "", "actor": "", "reason": "", "body": "{}"}
    for clash in ({"number": 1, "key": None}, {"number": 2, "key": "k"}):
        with engine.connect() as connection, pytest.raises(IntegrityError):
            connection.execute(insert(EVENT).values(**row, **clash))
    engine.dispose()


def test_a_newer_database_is_refused_and_left_alone(url: str) -> None:
    from sqlalchemy import create_engine, text

    open_store(url).close()
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.execute(text("UPDATE schema_version SET version_num = '0999'"))
    with pytest.raises(StorageError, match=r"newer optimiser .*0999") as caught:
        open_store(url)
    assert "Update optimiser" in caught.value.hint
    with engine.connect() as connection:
        assert connection.execute(text("SELECT version_num FROM schema_version")).scalar() == "0999"
    engine.dispose()


def test_opening_a_store_of_the_newest_schema_loads_no_migrations(tmp_path: Path) -> None:
    path = tmp_path / "studies.db"
    open_store(str(path)).close()
    code = (
        "import sys; from optimiser.storage import open_store; before = 'sqlalchemy' in sys.modules; "
        f"open_store({str(path)!r}).study_names(); sys.exit(before + 2 * ('alembic' in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, cwd=ROOT).returncode == 0
