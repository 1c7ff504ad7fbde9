"""The commands, each in the file of its part of the hunt."""

import typer

from optimiser.cli.commands import (
    advising,
    beginning,
    hunting,
    keeping,
    listening,
    looking,
    measuring,
    mending,
    rehearsing,
    remeasuring,
    serving,
)

app = typer.Typer(
    name="optimiser",
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Finds the settings with which a capture of a guitar amp sounds and answers like the amp.",
    epilog="Exit codes: 0 done, 1 our fault, 2 bad use, 3 bad input, 4 not found, 5 storage, 6 busy, 130 interrupted.",
)
for commands in (
    rehearsing,
    measuring,
    beginning,
    advising,
    hunting,
    mending,
    looking,
    listening,
    keeping,
    remeasuring,
    serving,
):
    for command in commands.COMMANDS:
        app.command()(command)

__all__ = ["app"]
