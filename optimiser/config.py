"""Where the tool keeps its things: a flag wins over the environment, the environment over the default.

Enters: flags and the variables OPTIMISER_*. Leaves: one frozen value. Knows nothing of what is kept there.
"""

from pathlib import Path
from typing import Any

from platformdirs import user_data_path
from pydantic import Field, ValidationError
from pydantic_settings import BaseSettings, SettingsConfigDict

from optimiser.errors import BadUse


def default_store() -> str:
    """The SQLite file in the user's own data folder."""
    return str(user_data_path("optimiser", appauthor=False) / "studies.db")


class Config(BaseSettings):
    """What can be set from outside.

    Attributes:
        store: database URL or path of an SQLite file (OPTIMISER_STORE).
        audio: folder for recordings (OPTIMISER_AUDIO); None keeps them beside the database.
    """

    model_config = SettingsConfigDict(env_prefix="OPTIMISER_", env_ignore_empty=True, extra="forbid", frozen=True)

    store: str = Field(default_factory=default_store, min_length=1)
    audio: Path | None = None


def load_config(*, store: str | None = None, audio: Path | None = None) -> Config:
    """Flags where they are given, else the environment, else the defaults.

    Raises:
        BadUse: a flag or variable that cannot be used.
    """
    given: dict[str, Any] = {"store": store, "audio": audio}
    try:
        return Config(**{name: flag for name, flag in given.items() if flag is not None})
    except ValidationError as error:
        first = error.errors()[0]
        name = str(first["loc"][0])
        raise BadUse(
            f"{name} cannot be used: {first['msg']}.", f"Mend --{name} or the variable OPTIMISER_{name.upper()}."
        ) from error
