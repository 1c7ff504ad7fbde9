"""The tables, in the words of SQL that SQLite and PostgreSQL share. JSON is kept as text."""

from typing import Final

from sqlalchemy import (
    BigInteger,
    Column,
    Double,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

METADATA: Final = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
    }
)

STUDY: Final = Table(
    "study",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    Column("created_at", Text, nullable=False),
)
"""One row for each study."""

EVENT: Final = Table(
    "event",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("study_id", Integer, ForeignKey("study.id"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("kind", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("actor", Text, nullable=False),
    Column("reason", Text, nullable=False),
    Column("key", Text, nullable=True),
    Column("body", Text, nullable=False),
    UniqueConstraint("study_id", "number"),
    UniqueConstraint("study_id", "key"),
)
"""One row for each event; numbers run from 1 without a gap within a study. Rows are only ever added."""

AUDIO: Final = Table(
    "audio",
    METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("bytes", BigInteger, nullable=False),
    Column("kind", Text, nullable=False),
    Column("name", Text, nullable=False),
)
"""One row for each recording whose file is safely in place."""

JOB: Final = Table(
    "job",
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("turn", Integer, nullable=False, unique=True),
    Column("study", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("key", Text, nullable=True),
    Column("state", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("progress", Text, nullable=False),
    Column("result", Text, nullable=True),
    Column("worker", Text, nullable=False),
    Column("lease_until", Double, nullable=False),
    Column("tries", Integer, nullable=False),
    Column("created_at", Text, nullable=False),
    Column("changed_at", Text, nullable=False),
    UniqueConstraint("study", "key"),
)
"""One row for each long run that was asked for; `turn` is its place in the queue, from 1."""

SESSION: Final = Table(
    "session",
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("secret_sha256", String(64), nullable=False, unique=True),
    Column("label", Text, nullable=False),
    Column("created_at", Text, nullable=False),
    Column("ends_at", Text, nullable=False),
)
"""One row for each device that may use the service over a network; a revoked one has none."""

BLIND_TEST: Final = Table(
    "blind_test",
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("study", Text, nullable=False),
    Column("trial", Integer, nullable=False),
    Column("hidden", Text, nullable=False),
    Column("answers", Text, nullable=False),
    Column("start_s", Double, nullable=False),
    Column("seconds", Double, nullable=False),
    Column("state", Text, nullable=False),
    Column("created_at", Text, nullable=False),
)
"""One row for each blind test: what X is in every try, as letters, and the answers so far, as letters."""
