"""Figures, tables behind them, and recall sheets, as text for a page."""

from dataclasses import asdict
from zoneinfo import ZoneInfo

from optimiser.errors import BadUse
from optimiser.review import recall_sheet, standing_of, svg_of, views_of
from optimiser.storage import Store
from optimiser.study import fold
from optimiser.workflow.stamp import Stamp
from optimiser.workflow.views import View


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
    state = fold(store.events(name))
    trial = state.study.trial(number)
    if trial.state not in ("measured", "void"):
        raise BadUse(
            f"Trial {number} of {name} is {trial.state}.", "Print the recall sheet of a trial that was measured."
        )
    written = stamp.at.astimezone(ZoneInfo(state.sheet.timezone)).strftime("%Y-%m-%d %H:%M")
    return recall_sheet(state, number, written)
