"""Studies, events, recordings."""

from typing import Final

import sqlalchemy as sa
from alembic import op

revision: Final = "0001"
down_revision: Final = None


def upgrade() -> None:
    """Make the three tables."""
    op.create_table(
        "study",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_study"),
        sa.UniqueConstraint("name", name="uq_study_name"),
    )
    op.create_table(
        "event",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("study_id", sa.Integer, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("actor", sa.Text, nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
        sa.Column("key", sa.Text, nullable=True),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_event"),
        sa.ForeignKeyConstraint(["study_id"], ["study.id"], name="fk_event_study_id"),
        sa.UniqueConstraint("study_id", "number", name="uq_event_study_id_number"),
        sa.UniqueConstraint("study_id", "key", name="uq_event_study_id_key"),
    )
    op.create_table(
        "audio",
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("bytes", sa.BigInteger, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_audio"),
    )
