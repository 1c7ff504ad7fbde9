"""Words of the command line that several commands share."""

from collections.abc import Iterable
from datetime import UTC, datetime
from getpass import getuser
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.errors import BadUse

if TYPE_CHECKING:
    from optimiser.workflow import Stamp

StudyName = Annotated[str, typer.Argument(metavar="STUDY", help="The study's name.")]
SetWords = Annotated[
    list[str] | None,
    typer.Option("--set", metavar="NAME=VALUE", help="What was set, as in gain=1:30; once for each setting."),
]
LockWords = Annotated[
    list[str] | None,
    typer.Option("--lock", metavar="NAME=VALUE", help="A setting to be kept as it is, as in gain=1:00."),
]
KeyWord = Annotated[
    str, typer.Option("--key", help="Idempotency key: the same key again changes nothing.", show_default=False)
]


def assignments(words: Iterable[str] | None) -> dict[str, object]:
    """`gain=1:30` and the like as a mapping.

    Raises:
        BadUse: a word without `=`, or a name given twice.
    """
    settings: dict[str, object] = {}
    for word in words or ():
        name, equals, value = word.partition("=")
        if not equals or not name.strip():
            raise BadUse(f"{word!r} says nothing.", "Write NAME=VALUE, as in gain=1:30.")
        if name.strip() in settings:
            raise BadUse(f"{name.strip()} is given twice.", "Give each setting once.")
        settings[name.strip()] = value.strip()
    return settings


def stamp(reason: str = "", key: str = "") -> "Stamp":
    """Now, by whoever is logged in."""
    from optimiser.workflow import Stamp

    return Stamp(datetime.now(UTC), _user(), reason, key)


def _user() -> str:
    try:
        return getuser()
    except (OSError, KeyError, ImportError):
        return ""
