"""One suite for every kind of database: each test that asks for `url` runs on all of them.

An SQLite file is always among them. With PostgreSQL they run under `-m ci`, on the server whose URL is in
OPTIMISER_TEST_POSTGRESQL (`.ci/postgresql start FOLDER` gives one); without one they are skipped, and fail when
OPTIMISER_CI is set.
"""

import os
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from optimiser.storage import Store, open_store
from optimiser.study import Event

SERVER = os.environ.get("OPTIMISER_TEST_POSTGRESQL", "")
KINDS = ("sqlite", pytest.param("postgresql", marks=pytest.mark.ci))
AT = "2026-03-02T10:00:00+00:00"


@pytest.fixture(autouse=True)
def own_surroundings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No test sees the store or the recordings of whoever runs it."""
    for name in ("OPTIMISER_STORE", "OPTIMISER_AUDIO"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


@pytest.fixture(params=KINDS)
def url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """An empty place for a store."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'studies.db'}"
    else:
        yield from a_schema()


@pytest.fixture
def server_url() -> Iterator[str]:
    """An empty place for a store on a server."""
    yield from a_schema()


def a_schema() -> Iterator[str]:
    """A corner of the server of its own, removed afterwards."""
    if not SERVER:
        if os.environ.get("OPTIMISER_CI"):
            pytest.fail("OPTIMISER_TEST_POSTGRESQL names no server; start one with .ci/postgresql")
        pytest.skip("no PostgreSQL server")
    from sqlalchemy import NullPool, create_engine, text

    schema = f"test_{uuid.uuid4().hex}"
    engine = create_engine(SERVER, poolclass=NullPool)
    with engine.begin() as connection:
        connection.execute(text(f"CREATE SCHEMA {schema}"))
    yield f"{SERVER}?options=-csearch_path%3D{schema}"
    with engine.begin() as connection:
        connection.execute(text(f"DROP SCHEMA {schema} CASCADE"))
    engine.dispose()


@pytest.fixture
def store(url: str) -> Iterator[Store]:
    """An open store with a study `combo` that was just started."""
    with open_store(url) as opened:
        opened.start("combo", Event("started", {"sheet": {}}, AT))
        yield opened


@pytest.fixture
def recording(tmp_path: Path) -> Callable[..., Path]:
    """Makes files to be kept; the store looks at their bytes alone."""

    def make(content: bytes = b"RIFF and so on", name: str = "take.wav") -> Path:
        path = tmp_path / name
        path.write_bytes(content)
        return path

    return make
