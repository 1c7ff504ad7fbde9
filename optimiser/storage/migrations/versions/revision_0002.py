"""Long runs, devices, blind tests."""

from typing import Final

import sqlalchemy as sa
from alembic import op

revision: Final = "0002"
down_revision: Final = "0001"


def upgrade() -> None:
    """Make the three tables that the service needs."""
    _add_jobs()
    _add_devices()
    _add_blind_tests()


def _add_jobs() -> None:
    op.create_table(
        "job",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("turn", sa.Integer, nullable=False),
        sa.Column("study", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("key", sa.Text, nullable=True),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("progress", sa.Text, nullable=False),
        sa.Column("result", sa.Text, nullable=True),
        sa.Column("worker", sa.Text, nullable=False),
        sa.Column("lease_until", sa.Double, nullable=False),
        sa.Column("tries", sa.Integer, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.Column("changed_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_job"),
        sa.UniqueConstraint("turn", name="uq_job_turn"),
        sa.UniqueConstraint("study", "key", name="uq_job_study_key"),
    )


def _add_devices() -> None:
    op.create_table(
        "session",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("secret_sha256", sa.String(64), nullable=False),
        sa.Column("label", sa.Text, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.Column("ends_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_session"),
        sa.UniqueConstraint("secret_sha256", name="uq_session_secret_sha256"),
    )


def _add_blind_tests() -> None:
    op.create_table(
        "blind_test",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("study", sa.Text, nullable=False),
        sa.Column("trial", sa.Integer, nullable=False),
        sa.Column("hidden", sa.Text, nullable=False),
        sa.Column("answers", sa.Text, nullable=False),
        sa.Column("start_s", sa.Double, nullable=False),
        sa.Column("seconds", sa.Double, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_blind_test"),
    )
