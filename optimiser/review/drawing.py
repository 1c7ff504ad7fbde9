"""The plain look that all figures share: size, type, axes, and one marker for each state of a trial.

Figures are made for a phone held upright and scale up from there. Ground, ink and the rest come from the palette.
"""

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, cast

from optimiser.review.images import TIP, svg_of
from optimiser.review.palette import LIGHT
from optimiser.space import Knob
from optimiser.units import show_clock, show_number

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_INCHES: Final = 4.4
"""Inches, 317 points: on a phone 360 pixels wide the type keeps its size (own choice)."""

TEXT_POINTS: Final = 10.5
"""Points of the common text (own choice)."""

MOST_SPEAKING: Final = 60
"""Marks of one kind up to which each carries what it says; with more a figure would outgrow a page (own choice)."""

TITLE_LETTERS: Final = 37
"""Letters in a line of the title, bold and wider than the rest."""

_STYLE: Final = {
    "font.size": TEXT_POINTS,
    "axes.labelsize": TEXT_POINTS,
    "axes.titlesize": TEXT_POINTS,
    "xtick.labelsize": TEXT_POINTS,
    "ytick.labelsize": TEXT_POINTS,
    "legend.fontsize": TEXT_POINTS - 0.5,
    "figure.titlesize": TEXT_POINTS + 1.5,
    "figure.facecolor": LIGHT.paper,
    "axes.facecolor": "none",
    "savefig.facecolor": LIGHT.paper,
    "text.color": LIGHT.ink,
    "axes.labelcolor": LIGHT.ink,
    "axes.titlecolor": LIGHT.ink,
    "axes.edgecolor": LIGHT.quiet,
    "xtick.color": LIGHT.quiet,
    "ytick.color": LIGHT.quiet,
    "xtick.labelcolor": LIGHT.ink,
    "ytick.labelcolor": LIGHT.ink,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "grid.color": LIGHT.grid,
    "grid.linewidth": 0.7,
    "legend.frameon": False,
    "legend.handletextpad": 0.4,
    "legend.columnspacing": 1.2,
    "lines.linewidth": 1.6,
    "lines.markersize": 6.5,
    "hatch.linewidth": 0.7,
    "svg.fonttype": "none",
}


@dataclass(frozen=True, eq=False)
class View:
    """A figure and the table behind it.

    Attributes:
        figure: the figure; its label is its short name, its title the finding.
        head: names of the table's columns.
        rows: the table's rows, as shown to people.
    """

    figure: "Figure"
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @cached_property
    def svg(self) -> str:
        """The figure as SVG; it is written once, however many pages and files show it."""
        return svg_of(self.figure)


@contextmanager
def own_look() -> Iterator[None]:
    """The look for what is drawn inside, without a change to anybody else's."""
    from matplotlib import rc_context

    with rc_context(cast(Any, _STYLE)):
        yield


def new_figure(name: str, title: str, height_inches: float) -> "Figure":
    """An empty figure of the common width.

    Args:
        name: short name without blanks; starts its ids.
        title: a sentence that says what was found.
        height_inches: height.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_INCHES, height_inches), layout="constrained", label=name)
    figure.suptitle(wrapped(title, TITLE_LETTERS), x=0.02, ha="left", weight="bold")
    return figure


def laid_out(figure: "Figure") -> "Figure":
    """The figure with everything in its final place, so that writing it as SVG and as PNG need not find it again."""
    engine = figure.get_layout_engine()
    if engine is not None:
        engine.execute(figure)
        figure.set_layout_engine("none")
    return figure


def wrapped(text: str, letters: int) -> str:
    """Text broken into as few lines of at most `letters` as will do, all of about the same length."""
    lines = textwrap.wrap(text, letters)
    while len(even := textwrap.wrap(text, letters - 1)) == len(lines) and letters > 2:
        lines, letters = even, letters - 1
    return "\n".join(lines)


def shortened(text: str, letters: int) -> str:
    """Text cut to at most `letters`, with dots where it goes on."""
    return text if len(text) <= letters else text[: letters - 1].rstrip() + "…"


def legend_below(figure: "Figure", axes: "Axes", columns: int = 2) -> None:
    """What each mark means, under the figure."""
    handles, labels = axes.get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower left", ncols=columns)


def trial_ticks(axes: "Axes", most: int = 8) -> None:
    """Whole trial numbers along the bottom, at most about `most` of them."""
    from matplotlib.ticker import MaxNLocator

    axes.xaxis.set_major_locator(MaxNLocator(nbins=most, integer=True, min_n_ticks=1))
    axes.set_xlabel("trial")


def knob_axis(axes: "Axes", knob: Knob, along: str = "x") -> None:
    """A knob along one axis: clock faces or numbers with their unit, over the sheet's range."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator, MultipleLocator

    axis = axes.xaxis if along == "x" else axes.yaxis
    margin = 0.03 * (knob.high - knob.low)
    (axes.set_xlim if along == "x" else axes.set_ylim)(knob.low - margin, knob.high + margin)
    if knob.scale == "clock":
        hours = knob.high - knob.low
        axis.set_major_locator(MultipleLocator(2 if hours > 6 else 1 if hours > 2 else 0.5))
        axis.set_major_formatter(FuncFormatter(lambda value, _place: show_clock(value)))
        axis.set_label_text(f"{knob.name} (clock face)")
    else:
        axis.set_major_locator(MaxNLocator(nbins=6))
        axis.set_major_formatter(FuncFormatter(lambda value, _place: show_number(value)))
        axis.set_label_text(f"{knob.name} ({knob.unit})" if knob.unit else knob.name)


Point = tuple[float, float, str]
"""Where a mark stands, and what it says."""


def draw_points(axes: "Axes", points: Sequence[Point], look: Mapping[str, Any]) -> None:
    """Marks that each say something, or, of very many, marks alone: the table behind the figure says the same.

    Args:
        axes: where to draw.
        points: places in the axes' coordinates, or in those of a `transform` in the look.
        look: arguments for `Axes.plot`; a `label` is used once.
    """
    if len(points) > MOST_SPEAKING:
        axes.plot([x for x, _, _ in points], [y for _, y, _ in points], **{**look, "ms": 3})
        return
    for place, (x, y, said) in enumerate(points):
        (drawn,) = axes.plot([x], [y], **(look if place == 0 else {**look, "label": "_again"}))
        drawn.set_gid(TIP + said)


@dataclass(frozen=True)
class Mark:
    """How a kind of trial is drawn.

    Attributes:
        shape: matplotlib's marker.
        filled: whether the mark is filled with its colour or with paper.
        colour: its colour.
        label: what it means.
    """

    shape: str
    filled: bool
    colour: str
    label: str

    def keywords(self) -> dict[str, Any]:
        """Arguments for `Axes.plot`."""
        return {
            "marker": self.shape,
            "linestyle": "none",
            "color": self.colour,
            "markerfacecolor": self.colour if self.filled else LIGHT.paper,
            "markeredgecolor": self.colour,
            "markeredgewidth": 1.3,
        }


MARKS: Final[dict[str, Mark]] = {
    "first design": Mark("s", True, LIGHT.ink, "first design"),
    "search": Mark("o", True, LIGHT.ink, "search"),
    "repeat": Mark("D", True, LIGHT.ink, "repeat or check"),
    "own": Mark("^", True, LIGHT.ink, "own choice"),
    "partial": Mark("p", False, LIGHT.ink, "a part missing, predicted"),
    "waiting": Mark("o", False, LIGHT.belief, "waiting, predicted"),
    "failed": Mark("X", True, LIGHT.warn, "failed run"),
    "void": Mark("_", True, LIGHT.quiet, "put aside or struck out"),
}
"""Trials by kind and state. No two differ by colour alone."""
