"""Which schema a database has, and the way to the newest."""

from pathlib import Path
from typing import TYPE_CHECKING, Final

from sqlalchemy import inspect, text

from optimiser.errors import StorageError

if TYPE_CHECKING:
    from sqlalchemy import Connection

NEWEST: Final = "0002"
"""The schema that this program reads and writes; four digits that only ever grow."""

VERSION_TABLE: Final = "schema_version"

_MIGRATIONS: Final = Path(__file__).with_name("migrations")


def stored_version(connection: "Connection", shown: str) -> str | None:
    """The schema of a database, None for one without any table.

    Raises:
        StorageError: the database holds something else, or was written by a newer program.
    """
    tables = inspect(connection).get_table_names()
    if not tables:
        return None
    if VERSION_TABLE not in tables:
        raise StorageError(f"{shown} holds something other than studies.", "Name another place for the store.")
    version = str(connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalar())  # noqa: S608
    if version > NEWEST:
        raise StorageError(
            f"{shown} was written by a newer optimiser (schema {version}; this one knows up to {NEWEST}).",
            "Update optimiser, or name another store.",
        )
    return version


def is_newest(version: str | None) -> bool:
    """Whether a database needs no step more."""
    return version == NEWEST


def upgrade(connection: "Connection") -> None:
    """Bring a database to the newest schema, wholly or not at all. Alembic is loaded only here."""
    from alembic import command
    from alembic.config import Config

    scripts = Config()
    scripts.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    scripts.set_main_option("path_separator", "os")
    with connection.begin():
        scripts.attributes.update(connection=connection, version_table=VERSION_TABLE)
        command.upgrade(scripts, "head")
