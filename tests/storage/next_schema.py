"""A schema that comes after the newest: one real step more, which copies the table of events. For tests alone."""

import shutil
from pathlib import Path

from optimiser.storage import schema

STEP = '''
"""One column more in every event, by a copy of the table."""

import sqlalchemy as sa
from alembic import op

revision = "{next}"
down_revision = "{newest}"


def upgrade() -> None:
    how = "always" if op.get_bind().dialect.name == "sqlite" else "auto"
    with op.batch_alter_table("event", recreate=how) as event:
        event.add_column(sa.Column("weight", sa.Float, nullable=False, server_default="1.5"))
    op.create_table("later", sa.Column("id", sa.Integer, primary_key=True))
'''
STEPS = Path(schema.__file__).with_name("migrations")


def next_version() -> str:
    return f"{int(schema.NEWEST) + 1:04d}"


def write_steps(folder: Path) -> str:
    """Every real step and one more, in a folder of their own; gives the newer version."""
    newer = next_version()
    shutil.copytree(STEPS, folder, ignore=shutil.ignore_patterns("__pycache__"))
    (folder / "versions" / f"revision_{newer}.py").write_text(STEP.format(next=newer, newest=schema.NEWEST))
    return newer


def adopt(folder: Path, version: str) -> None:
    """Let this process be a newer program."""
    schema.__dict__.update(NEWEST=version, _MIGRATIONS=folder)
