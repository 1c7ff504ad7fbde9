"""Two pictures: every ladder, and the match score beside HAAQI."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from tests.benchmarks.match.cases import MIDDLE_DRIVE
from tests.benchmarks.match.faults import FAMILIES
from tests.benchmarks.match.figures import Judged, Ladder

PANELS_A_ROW: Final = 6
LINES: Final = {"reel": ("#0b5394", "-", "o"), "clips": ("#b45309", "--", "s"), "notes": ("#4d7c0f", ":", "^")}
"""Colour, dashes and mark of each source."""

KINDS: Final = {
    "fault": ("#0b5394", "o"),
    "noise, gate or hiss": ("#b45309", "s"),
    "codec": ("#4d7c0f", "^"),
    "unseen fault": ("#9d174d", "D"),
}


def plot_ladders(ladders: Sequence[Ladder], path: Path) -> None:
    """Score against size for every family at the middle drive."""
    from matplotlib.figure import Figure

    rows = -(-len(FAMILIES) // PANELS_A_ROW)
    figure = Figure(figsize=(2.6 * PANELS_A_ROW, 2.4 * rows + 0.5), layout="constrained")
    for axis, family in zip(figure.subplots(rows, PANELS_A_ROW, sharey=True).ravel(), FAMILIES, strict=True):
        for ladder in ladders:
            if ladder.family == family.name and ladder.drive == MIDDLE_DRIVE and ladder.source in LINES:
                colour, dashes, mark = LINES[ladder.source]
                axis.plot(
                    range(len(family.sizes)), ladder.scores, color=colour, linestyle=dashes, marker=mark,
                    markersize=4, label=ladder.source,
                )  # fmt: skip
        axis.set(title=f"{family.name}{f', {family.unit}' if family.unit else ''}", ylim=(0, 103))
        axis.set_xticks(range(len(family.sizes)), [f"{size:g}" for size in family.sizes])
        axis.grid(color="#dddddd")
    handles, labels = figure.axes[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=len(labels))
    figure.supylabel("match score")
    figure.savefig(path, dpi=90)


def kind_of(judged: Judged) -> str:
    """Which of the four kinds a case is."""
    if judged.case.unseen:
        return "unseen fault"
    if judged.case.coded:
        return "codec"
    return "noise, gate or hiss" if judged.case.noisy else "fault"


def plot_beside_haaqi(judged: Sequence[Judged], path: Path) -> None:
    """Match score against HAAQI."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(6.4, 4.6), layout="constrained")
    axis = figure.subplots()
    for kind, (colour, mark) in KINDS.items():
        chosen = [one for one in judged if kind_of(one) == kind]
        axis.scatter(
            [one.outside["haaqi"] for one in chosen], [one.points() for one in chosen],
            color=colour, marker=mark, s=22, alpha=0.75, label=kind,
        )  # fmt: skip
    axis.set(xlabel="HAAQI", ylabel="match score", ylim=(0, 103))
    axis.grid(color="#dddddd")
    axis.set_axisbelow(True)
    axis.legend(loc="upper left")
    figure.savefig(path, dpi=100)
