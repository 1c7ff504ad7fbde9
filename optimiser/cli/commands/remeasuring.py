"""remeasure: takes scored again by the measure as it is now."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Final

import typer

from optimiser.cli.commands.words import stamp
from optimiser.cli.outcome import AsJson, Outcome, StoreUrl, View, tell
from optimiser.cli.printing import columns, count, number, paragraph, whole
from optimiser.errors import BadUse

SHOWN: Final = 10
"""Trials whose scores moved most and that are printed; --json has them all."""

Shard = Annotated[
    str | None, typer.Option(metavar="I/N", help="Only one part of the takes, as in 2/3, for several machines.")
]
Out = Annotated[Path | None, typer.Option(metavar="FILE.jsonl", help="Write results here instead of the store.")]


def remeasure(
    names: Annotated[
        list[str] | None, typer.Argument(metavar="STUDY", help="Studies; none means all of the store.")
    ] = None,
    shard: Shard = None,
    out: Out = None,
    merge: Annotated[
        bool, typer.Option("--merge", help="Take in files that --out wrote, named instead of studies.")
    ] = False,
    jobs: Annotated[
        int | None, typer.Option(help="Processes at once; one on each core by default.", show_default=False)
    ] = None,
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Score takes again that an older version of the measure scored; broken off, the same command goes on."""
    from optimiser.storage import open_store
    from optimiser.workflow import RemeasureWish, merged, remeasure

    if merge:
        _refuse_with_merge(names, {"--shard": shard, "--out": out, "--jobs": jobs})
        with open_store(store, create=False) as opened:
            return Outcome(merged(opened, [Path(name) for name in names or ()], stamp(), tell), _say_merged, as_json)
    wish = RemeasureWish(tuple(names or ()), _part(shard), jobs, out)
    with open_store(store, create=False) as opened:
        return Outcome(remeasure(opened, wish, stamp(), tell), _say_remeasured, as_json)


def _part(shard: str | None) -> tuple[int, int]:
    if shard is None:
        return 1, 1
    form = re.fullmatch(r"(\d{1,6})/(\d{1,6})", shard.strip())
    if form is None:
        raise BadUse(f"{shard!r} is no part.", "Write I/N, as in --shard 2/3.")
    return int(form[1]), int(form[2])


def _refuse_with_merge(names: list[str] | None, others: dict[str, object]) -> None:
    given = [word for word, value in others.items() if value is not None]
    if given:
        raise BadUse(f"--merge does not go with {', '.join(given)}.", "Measure first, then merge.")
    if not names:
        raise BadUse("No file is named that could be merged.", "Name them: optimiser remeasure --merge FILE.jsonl ...")


def _say_remeasured(view: View) -> Iterator[str]:
    version = f"version {view['version']} of the measure"
    if not view["takes"]:
        yield "There is no take to be measured again."
    elif not view["run"] and not view["left_out"]:
        where = " or stands in the file" if view["file"] else ""
        yield from paragraph(f"Nothing to do: every take was scored by {version}{where}.")
    else:
        yield f"{count(view['run'], 'take')} measured again, by {version}."
    yield from _say_left_out(view)
    yield from _say_studies(view)
    if view["file"] and view["run"]:
        yield from whole("Written:", view["file"])
        yield from whole("To take it in:", f"optimiser remeasure --merge {view['file']}")


def _say_merged(view: View) -> Iterator[str]:
    known = f"; {view['known']} had been taken in before" if view["known"] else ""
    yield f"{view['run']} of {count(view['takes'], 'result')} taken in{known}."
    yield from _say_left_out(view)
    yield from _say_studies(view)


def _say_left_out(view: View) -> Iterator[str]:
    for left in view["left_out"]:
        of = f"trial {left['trial']} of {left['study']}: " if left["trial"] is not None else ""
        yield from paragraph(f"{of}{left['why']}", 10, "Left out:")


def _say_studies(view: View) -> Iterator[str]:
    for study in view["studies"]:
        name = study["study"]
        yield from paragraph(f"How the scores of {name} moved:")
        moves = study["moves"]
        yield from columns((f"trial {move['trial']}", *_moved(move)) for move in moves[:SHOWN])
        if len(moves) > SHOWN:
            yield f"  and {len(moves) - SHOWN} more, by {number(abs(moves[SHOWN]['moved'] or 0.0))} or less"
        yield from _say_recommended(study["recommended"])
        yield from paragraph(f"Next: optimiser review {name}; to take it back: optimiser undo {name}")


def _moved(move: View) -> tuple[str, ...]:
    score = "overall" if None not in move["overall"] else "match"
    was, now = move[score]
    return f"{move['moved'] or 0.0:+.1f}", f"{score} {number(was)} -> {number(now)}"


def _say_recommended(told: View | None) -> Iterator[str]:
    if told is None:
        return
    was, now = told["expected"]
    expected = f"expected {number(was)} before, {number(now)} now"
    if told["changed"]:
        yield from paragraph(f"{told['changes']} ({expected})", 10, "Keep now:")
    else:
        yield from paragraph(f"the settings to keep are the same ({expected})", 10, "Keep:")


COMMANDS: Final = (remeasure,)
