"""Rows read from bare pages are those that SQLite reads; damage costs the rows on the damaged pages and no others."""

import random
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimiser.storage.pages import rows_in

VALUES = st.one_of(
    st.none(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(allow_nan=False),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=20),
    st.binary(max_size=20),
    st.integers(100, 30_000).map(lambda length: "long " * (length // 5)),
)
PAGE_BYTES = 4096


def written(file: Path, rows: Sequence[tuple[object, ...]], page_bytes: int = PAGE_BYTES) -> None:
    file.unlink(missing_ok=True)
    with closing(sqlite3.connect(file, isolation_level=None)) as connection:
        connection.execute(f"PRAGMA page_size={page_bytes}")
        connection.execute("CREATE TABLE t (a, b, c)")
        connection.execute("BEGIN")
        connection.executemany("INSERT INTO t VALUES (?, ?, ?)", rows)
        connection.execute("COMMIT")


def read(file: bytes, log: bytes = b"") -> dict[int, tuple[object, ...]]:
    return {number: values for number, values in rows_in(file, log) if len(values) == 3}


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=st.lists(st.tuples(VALUES, VALUES, VALUES), max_size=30), page_bytes=st.sampled_from([512, 4096, 65536]))
def test_rows_of_any_values_are_those_that_sqlite_reads(
    tmp_path: Path, rows: list[tuple[object, ...]], page_bytes: int
) -> None:
    file = tmp_path / "any.db"
    written(file, rows, page_bytes)
    with closing(sqlite3.connect(file)) as connection:
        by_sqlite = {row[0]: row[1:] for row in connection.execute("SELECT rowid, a, b, c FROM t")}
    assert repr(read(file.read_bytes())) == repr(by_sqlite)


@pytest.mark.parametrize("seed", range(5))
def test_a_damaged_page_costs_only_the_rows_that_touch_it(tmp_path: Path, seed: int) -> None:
    """Rows of one page each, so that it is known whose page was damaged."""
    file = tmp_path / "pages.db"
    rows = [(number, "x" * 3900, number) for number in range(60)]
    written(file, rows)
    whole = file.read_bytes()
    draw = random.Random(seed)  # noqa: S311
    for page in draw.sample(range(2, len(whole) // PAGE_BYTES), 5):
        damaged = bytearray(whole)
        damaged[page * PAGE_BYTES : (page + 1) * PAGE_BYTES] = draw.randbytes(PAGE_BYTES)
        found = read(bytes(damaged))
        assert len(found) >= 59
        assert all(values == rows[number - 1] for number, values in found.items() if number <= 60)


def test_without_its_first_page_a_file_is_still_read(tmp_path: Path) -> None:
    file = tmp_path / "headless.db"
    rows = [(number, "y" * 500, None) for number in range(50)]
    written(file, rows)
    assert list(read(bytes(PAGE_BYTES) + file.read_bytes()[PAGE_BYTES:]).values()) == rows


def test_what_stands_in_the_log_alone_is_read_and_what_was_not_committed_is_not(tmp_path: Path) -> None:
    file = tmp_path / "logged.db"
    written(file, [(1, "in the file", None)])
    with closing(sqlite3.connect(file, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA wal_autocheckpoint=0")
        connection.execute("INSERT INTO t VALUES (2, 'in the log', NULL)")
        connection.execute("BEGIN")
        connection.execute("PRAGMA cache_size=1")
        for number in range(3, 40):
            connection.execute("INSERT INTO t VALUES (?, ?, NULL)", (number, "never committed " * 300))
        data, log = file.read_bytes(), Path(f"{file}-wal").read_bytes()
        assert b"never committed" in log
        connection.execute("ROLLBACK")
    assert [values[1] for values in read(data, log).values()] == ["in the file", "in the log"]


@settings(max_examples=200, deadline=None)
@given(noise=st.binary(max_size=3 * PAGE_BYTES), log=st.binary(max_size=200))
def test_noise_is_passed_over(noise: bytes, log: bytes) -> None:
    for _ in rows_in(noise, log):
        pass
    for _ in rows_in(b"\x0d" * 8 + noise, b"\x37\x7f\x06\x82" + log):
        pass


def test_a_chain_of_pages_that_goes_round_ends() -> None:
    page = bytearray(PAGE_BYTES)
    page[0] = 0x0D
    page[3:5] = (1).to_bytes(2, "big")
    page[8:10] = (100).to_bytes(2, "big")
    page[100:104] = b"\x81\x80\x00\x01"
    page += (2).to_bytes(4, "big") * (PAGE_BYTES // 4)
    assert list(rows_in(bytes(page))) == []
