"""Words of the command line that several commands share."""

import math
import re
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


def figure(text: str) -> float:
    """A number as people write it, with a point or a comma.

    Raises:
        typer.BadParameter: no number, or one without end.
    """
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise typer.BadParameter(f"{text!r} is no number; write it as in 6.5.")
    return number


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


def answers(words: Iterable[str] | None) -> dict[int, tuple[int, int]]:
    """`7=12/16` and the like: trial 7, 12 right answers of 16.

    Raises:
        BadUse: a word of another form, or a trial given twice.
    """
    told: dict[int, tuple[int, int]] = {}
    for trial, counts in assignments(words).items():
        form = re.fullmatch(r"(\d{1,9})=(\d{1,9})\s*/\s*(\d{1,9})", f"{trial}={counts}")
        if form is None:
            raise BadUse(f"{trial}={counts} is no blind test.", "Write TRIAL=RIGHT/TRIES, as in 7=12/16.")
        number, *answered = map(int, form.groups())
        if number in told:
            raise BadUse(f"{number} is given twice.", "Give each trial once.")
        told[number] = (answered[0], answered[1])
    return told


def stamp(reason: str = "", key: str = "") -> "Stamp":
    """Now, by whoever is logged in."""
    from optimiser.workflow import Stamp

    return Stamp(datetime.now(UTC), user(), reason, key)


def user() -> str:
    """Whoever is logged in; empty when nobody can tell."""
    try:
        return getuser()
    except (OSError, KeyError, ImportError):
        return ""
