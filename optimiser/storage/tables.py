"""The tables, in the words of SQL that SQLite and PostgreSQL share. JSON is kept as text."""

from typing import Final

from sqlalchemy import BigInteger, Column, ForeignKey, Integer, MetaData, String, Table, Text, UniqueConstraint

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
