"""Figures, tables behind them, and recall sheets, as text for a page."""

from collections.abc import Callable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from optimiser.errors import BadUse
from optimiser.review import recall_pdf, recall_sheet, standing_of, svg_of, views_of
from optimiser.storage import Store
from optimiser.study import STATE_WORDS, fold
from optimiser.workflow.files import write_file
from optimiser.workflow.stamp import Stamp
from optimiser.workflow.views import View

_SHEETS: Final[Mapping[str, Callable[..., str | bytes]]] = {".html": recall_sheet, ".pdf": recall_pdf}


def drawn(store: Store, name: str) -> View:
    """Every figure that the study has something for, as SVG with the table behind it, and what mattered.

    Raises:
        NotFound: no such study.
    """
    events = store.events(name)
    standing = standing_of(fold(events))
    return {
        "study": name,
        "event": len(events),
        "figures": {
            figure: {
                "finding": " ".join(view.figure.get_suptitle().split()),
                "head": list(view.head),
                "rows": [list(row) for row in view.rows],
                "svg": svg_of(view.figure),
            }
            for figure, view in views_of(standing).items()
        },
        "mattered": [asdict(share) for share in standing.shares],
    }


def recalled(store: Store, name: str, number: int, stamp: Stamp) -> str:
    """The recall sheet of one trial, a page of HTML to be printed.

    Raises:
        NotFound: no such study or trial.
        BadUse: a trial that nobody made.
    """
    return str(_recalled(recall_sheet, store, name, number, stamp))


def write_recall(store: Store, name: str, number: int, out: Path, stamp: Stamp) -> View:
    """The recall sheet of one trial as a file, HTML or PDF by its name.

    Raises:
        NotFound: no such study or trial.
        BadUse: a trial that nobody made, or a name that ends otherwise.
        BadInput: letters that a PDF does not have.
        StorageError: a file that cannot be written.
    """
    make = _SHEETS.get(out.suffix.lower())
    if make is None:
        raise BadUse(f"{out.name or out} is no name for a recall sheet.", "End it in .html or .pdf.")
    content = _recalled(make, store, name, number, stamp)
    return {"study": name, "trial": number, "file": str(write_file(out, content))}


def _recalled(make: Callable[..., str | bytes], store: Store, name: str, number: int, stamp: Stamp) -> str | bytes:
    state = fold(store.events(name))
    trial = state.study.trial(number)
    if trial.state not in ("measured", "void"):
        raise BadUse(
            f"Trial {number} of {name} is {STATE_WORDS.get(trial.state, trial.state)}.",
            "Print the recall sheet of a trial that was measured.",
        )
    written = stamp.at.astimezone(ZoneInfo(state.sheet.timezone)).strftime("%Y-%m-%d %H:%M")
    return make(state, number, written)
