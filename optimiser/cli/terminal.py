"""Runs one command: reads its words, prints its view or its error, gives the exit code."""

import os
import sys
import traceback
from collections.abc import Sequence
from typing import Final

import typer
from typer.main import get_command

from optimiser.cli.exits import BAD_USE, BUG, INTERRUPTED, exit_code
from optimiser.cli.outcome import Outcome, View, tell
from optimiser.cli.printing import as_json
from optimiser.errors import OptimiserError

_TELL: Final = "OPTIMISER_DEBUG"


def run(words: Sequence[str]) -> int:
    """Run one command line and return its exit code."""
    from optimiser.cli.commands import app

    wants_json = "--json" in words
    try:
        outcome = get_command(app).main(args=list(words), prog_name="optimiser", standalone_mode=False)
        if isinstance(outcome, Outcome):
            return _told(outcome)
        if outcome == INTERRUPTED:
            raise KeyboardInterrupt
        return outcome if isinstance(outcome, int) else 0
    except OptimiserError as error:
        return _refuse(error.code, error.message, error.hint, exit_code(error), as_json_document=wants_json)
    except typer.TyperException as error:
        text = error.format_message()
        hint = "See optimiser --help, or optimiser COMMAND --help."
        return _refuse("bad_use", text, hint, BAD_USE, as_json_document=wants_json)
    except (KeyboardInterrupt, typer.Abort):
        return _refuse(
            "interrupted", "Interrupted.", "What was stored stays stored.", INTERRUPTED, as_json_document=wants_json
        )
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:  # the last resort, so that nobody beside an amp reads a traceback
        if os.environ.get(_TELL):
            traceback.print_exc()
        text = f"This is a fault in optimiser itself: {type(error).__name__}: {error}".splitlines()[0]
        hint = f"What was stored stays stored. Set {_TELL}=1 to see where it happened."
        return _refuse("bug", text, hint, BUG, as_json_document=wants_json)


def _told(outcome: Outcome) -> int:
    """Print what a command did, and what is wrong all the same; gives the exit code."""
    error = outcome.error
    if outcome.as_json:
        _say(as_json(outcome.view if error is None else {**outcome.view, "error": _document(error)}))
    else:
        _say("\n".join(outcome.lines(outcome.view)))
        if error is not None:
            _tell_error(error.message, error.hint)
    return 0 if error is None else exit_code(error)


def _document(error: OptimiserError) -> View:
    return {"code": error.code, "message": error.message, "hint": error.hint}


def _say(text: str) -> None:
    print(text, flush=True)  # noqa: T201


def _refuse(code: str, message: str, hint: str, status: int, *, as_json_document: bool) -> int:
    if as_json_document:
        _say(as_json({"error": {"code": code, "message": message, "hint": hint}}))
    else:
        _tell_error(message, hint)
    return status


def _tell_error(message: str, hint: str) -> None:
    """What is wrong, and on a line of its own how to mend it."""
    tell(message)
    if hint:
        tell(hint)
