"""Alternatives side by side: what is predicted of each with its 90 % interval, the best on top."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from optimiser.review.drawing import shortened
from optimiser.review.images import TIP
from optimiser.review.palette import LIGHT
from optimiser.review.standing import ends_of, plus_minus

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True)
class Alternative:
    """One of several.

    Attributes:
        label: what it is called.
        mean: predicted, in points.
        sd: standard deviation of that prediction.
        tried: how many trials were made with it.
        kept: whether it belongs to the recommended settings.
    """

    label: str
    mean: float
    sd: float
    tried: int
    kept: bool = False


def foremost(ranked: Sequence[Alternative], most: int) -> list[Alternative]:
    """The first `most` of them; one that is kept takes the last place if it ranks lower."""
    lower = [one for one in ranked[most:] if one.kept]
    return [*ranked[: most - len(lower)], *lower]


def draw_ranking(axes: "Axes", alternatives: Sequence[Alternative], letters: int = 18) -> None:
    """Dots with intervals, one row each; filled where it was tried, hollow where it was not."""
    axes.grid(axis="x")
    for place, one in enumerate(alternatives):
        axes.plot(ends_of(np.array(one.mean), np.array(one.sd)), [place] * 2, color=LIGHT.belief, lw=1.4)
        if one.kept:
            axes.plot([one.mean], [place], "*", color=LIGHT.pick, ms=23, mec=LIGHT.paper, zorder=1.9)
        face = LIGHT.belief if one.tried else LIGHT.paper
        (drawn,) = axes.plot([one.mean], [place], "o", ms=7, color=LIGHT.belief, markerfacecolor=face, mew=1.4)
        drawn.set_gid(f"{TIP}{one.label}: {plus_minus(one.mean, one.sd)}, {tried_words(one.tried)}")
    labels = [f"{shortened(one.label, letters)}" for one in alternatives]
    axes.set_yticks(np.arange(len(alternatives)), labels)
    axes.set_ylim(len(alternatives) - 0.4, -0.6)
    axes.set_xlabel("predicted score (points)")


def tried_words(tried: int) -> str:
    """`untried`, `1 trial`, `3 trials`."""
    return "untried" if not tried else f"{tried} trial{'s' if tried > 1 else ''}"


def ranking_rows(alternatives: Sequence[Alternative]) -> tuple[tuple[str, ...], ...]:
    """Rows of a table: label, prediction, number of trials."""
    return tuple((one.label, plus_minus(one.mean, one.sd), str(one.tried)) for one in alternatives)


def explain_ranking(axes: "Axes") -> None:
    """Entries for a legend."""
    axes.plot([], [], "o", ms=7, color=LIGHT.belief, label="tried, with 90 % interval")
    axes.plot([], [], "o", ms=7, color=LIGHT.belief, markerfacecolor=LIGHT.paper, mew=1.4, label="untried")
    axes.plot([], [], "*", color=LIGHT.pick, markersize=13, mec=LIGHT.paper, label="recommended")
