"""rehearse: a whole hunt on the rehearsal amp."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Final

import typer

from optimiser.cli.commands.looking import say_standing
from optimiser.cli.outcome import AsJson, Outcome, View, tell
from optimiser.cli.printing import number, paragraph, whole


def rehearse(
    trials: Annotated[int, typer.Option(help="How many trials to make.")] = 15,
    seed: Annotated[int, typer.Option(help="Another seed is another room, another pair of hands.")] = 1,
    out: Annotated[Path, typer.Option(help="Folder for the recordings, the store and the report.")] = Path("rehearsal"),
    as_json: AsJson = False,
) -> Outcome:
    """Walk a whole hunt on a pretend amp, on real WAV files, with report."""
    from optimiser.workflow import rehearse

    return Outcome(rehearse(out, trials, seed, tell), _say_rehearse, as_json)


def _say_rehearse(view: View) -> Iterator[str]:
    yield from say_standing(view)
    yield from paragraph(
        f"The pretend amp's own best, found by a survey and not shown to the search, is {number(view['true_best'])}; "
        f"the settings to keep are worth {number(view['true_kept'])} there, without noise or hands."
    )
    for caution in view["cautions"]:
        yield from paragraph(caution, 10, "Caution:")
    yield from whole("Its store, for a look round:", f"--store {view['store']}")
    yield from paragraph("optimiser start SHEET.toml, with a sheet of your own chain", 10, "For real:")


COMMANDS: Final = (rehearse,)
