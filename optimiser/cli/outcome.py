"""What a command gives back, and the words that every command takes."""

import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Annotated, Any

import typer

from optimiser.cli.printing import warned
from optimiser.errors import OptimiserError

View = dict[str, Any]

AsJson = Annotated[bool, typer.Option("--json", help="Print exactly one JSON document.")]
StoreUrl = Annotated[
    str | None,
    typer.Option("--store", envvar="OPTIMISER_STORE", help="Database URL; default a file in your data folder."),
]


@dataclass(frozen=True)
class Outcome:
    """What a command did.

    Attributes:
        view: the whole of it, for programs.
        lines: how to say it to people.
        as_json: whether a program reads it.
        error: what is wrong all the same, said after the view; its family gives the exit code.
    """

    view: View
    lines: Callable[[View], Iterable[str]]
    as_json: bool
    error: OptimiserError | None = None


def tell(text: str) -> None:
    """Say on stderr what is going on."""
    print("\n".join(warned(text)), file=sys.stderr, flush=True)  # noqa: T201
