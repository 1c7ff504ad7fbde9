"""advisers: earlier studies from which a study starts."""

from collections.abc import Iterator
from typing import Annotated, Final

import typer

from optimiser.cli.commands.words import StudyName, stamp
from optimiser.cli.outcome import AsJson, Outcome, StoreUrl, View
from optimiser.cli.printing import paragraph, whole
from optimiser.errors import BadUse


def advisers(
    study: StudyName,
    from_: Annotated[
        list[str] | None,
        typer.Option("--from", metavar="STUDY", help="An earlier study to be advised by; once for each."),
    ] = None,
    none: Annotated[bool, typer.Option("--none", help="Go by the study's own trials alone.")] = False,
    reason: Annotated[str, typer.Option(help="Why.")] = "",
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Which earlier studies advise this one, and what each counts for."""
    from optimiser.storage import open_store
    from optimiser.workflow import advisers_of, choose_advisers

    if none and from_:
        raise BadUse("Both --from and --none are given.", "Give one of them.")
    if reason and not none and not from_:
        raise BadUse("A reason is given, but nothing that should change.", "Say what with --from STUDY or --none.")
    with open_store(store, create=False) as opened:
        if none or from_:
            return Outcome(choose_advisers(opened, study, from_ or [], stamp(reason)), _say_advisers, as_json)
        return Outcome(advisers_of(opened, study), _say_advisers, as_json)


def _say_advisers(view: View) -> Iterator[str]:
    if view.get("remark"):
        yield from paragraph(view["remark"])
    if not view["advisers"]:
        yield from paragraph(f"Study {view['study']} goes by its own trials alone.")
    yield from say_weights(view)
    for adviser in view["advisers"]:
        yield from say_ignored(adviser)
    yield from whole("Next:", f"optimiser next {view['study']}")


def say_weights(view: View) -> Iterator[str]:
    """What each adviser counts for."""
    if view["advisers_shown"]:
        yield from paragraph(view["advisers_shown"], 10, "Advisers:")


def say_ignored(adviser: View) -> Iterator[str]:
    """What of an adviser could not be carried over."""
    if adviser["ignored"]:
        yield from paragraph(f"of {adviser['study']!r}: {'; '.join(adviser['ignored'])}", 10, "Ignored:")


COMMANDS: Final = (advisers,)
