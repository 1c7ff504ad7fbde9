"""Predicted score along one knob, a panel for each step of a second setting, with the trials on it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, cast

import numpy as np
from numpy.typing import NDArray

from optimiser.review.drawing import (
    Point,
    View,
    draw_points,
    knob_axis,
    laid_out,
    legend_below,
    new_figure,
    own_look,
    shortened,
)
from optimiser.review.palette import LIGHT
from optimiser.review.progress import said_of
from optimiser.review.standing import Standing, ends_of, plus_minus
from optimiser.space import Knob, Setting, Settings, Value

if TYPE_CHECKING:
    from matplotlib.axes import Axes

STEPS: Final = 61
"""Points along the knob."""

MOST_PANELS: Final = 4
"""Panels that still fit a phone; of more steps the best by belief are shown."""

TABLE_STEPS: Final = 10
"""Points along the knob in the table behind the figure."""

Panel = tuple[Setting | None, Value | None]
"""The second setting, if any, and the step of it that a panel shows."""


def slices(standing: Standing, knob: Knob, other: Setting | None) -> View:
    """Predicted score along `knob` for the steps of `other`, everything else as recommended.

    Args:
        standing: where the study stands; something must be believed.
        knob: what runs along the bottom.
        other: a setting with steps; None for a single panel.
    """
    along = [knob.nearest(value) for value in np.linspace(knob.low, knob.high, STEPS)]
    levels = _levels(standing, knob, other, along)
    with own_look():
        figure = new_figure("explored", _finding(standing, knob, other), 1.5 + max(2.2, 1.45 * len(levels)))
        panels = figure.subplots(len(levels), 1, sharex=True, sharey=True, squeeze=False)[:, 0]
        for axes, level in zip(panels, levels, strict=True):
            _panel(axes, standing, knob, along, (other, level))
        knob_axis(panels[-1], knob)
        if len(panels) == 1:
            panels[0].set_ylabel("overall score (points)")
        else:
            figure.supylabel("overall score (points)", fontsize=panels[-1].xaxis.label.get_fontsize())
        _explain(panels[0])
        legend_below(figure, panels[0], columns=1)
    head = (knob.name, *(other.show(level) if other and level is not None else "predicted" for level in levels))
    return View(laid_out(figure), head, _rows(standing, knob, [(other, level) for level in levels]))


def _rows(standing: Standing, knob: Knob, panels: Sequence[Panel]) -> tuple[tuple[str, ...], ...]:
    few = [knob.nearest(value) for value in np.linspace(knob.low, knob.high, TABLE_STEPS)]
    curves = [_curve(standing, knob, few, panel) for panel in panels]
    return tuple(
        (knob.show(value), *("" if np.isnan(m[place]) else plus_minus(m[place], s[place]) for m, s in curves))
        for place, value in enumerate(few)
    )


def _finding(standing: Standing, knob: Knob, other: Setting | None) -> str:
    best = standing.base
    place = f"{knob.name} at {knob.show(best[knob.name])}" if knob.name in best else f"no {knob.name}"
    if other is not None and other.name in best:
        place += f" with {other.name} {other.show(best[other.name])}"
    mean, sd = standing.predicted([best])
    return f"Best by belief: {place}, {plus_minus(mean[0], sd[0])}"


def _levels(standing: Standing, knob: Knob, other: Setting | None, along: Sequence[float]) -> list[Value | None]:
    if other is None:
        return [None]
    levels = [
        level for level in other.levels() or () if knob.name in _arrangement(standing, knob, along[0], (other, level))
    ]
    if len(levels) <= MOST_PANELS:
        return list(levels)
    tops = [np.nanmax([-np.inf, *_curve(standing, knob, along, (other, level))[0]]) for level in levels]
    kept = sorted(sorted(range(len(levels)), key=lambda place: -tops[place])[:MOST_PANELS])
    return [levels[place] for place in kept]


def _arrangement(standing: Standing, knob: Knob, value: float, panel: Panel) -> Settings:
    other, level = panel
    changes: Settings = {knob.name: value}
    if other is not None and level is not None:
        changes[other.name] = level
    return standing.varied(**changes)


def _curve(
    standing: Standing, knob: Knob, along: Sequence[float], panel: Panel
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    many = [_arrangement(standing, knob, value, panel) for value in along]
    means, sds = standing.predicted(many)
    exists = np.array([knob.name in settings for settings in many])
    return np.where(exists, means, np.nan), sds


def _panel(axes: "Axes", standing: Standing, knob: Knob, along: Sequence[float], panel: Panel) -> None:
    other, level = panel
    means, sds = _curve(standing, knob, along, panel)
    axes.grid()
    axes.fill_between(along, *ends_of(means, sds), color=LIGHT.belief, alpha=0.18, linewidth=0)
    axes.plot(along, means, color=LIGHT.belief)
    if other is not None and level is not None:
        axes.set_title(shortened(f"{other.name}: {other.show(level)}", 40), loc="left", weight="bold")
    _trials(axes, standing, knob, panel)
    best = standing.base
    if knob.name in best and (other is None or best.get(other.name) == level):
        height = standing.predicted([best])[0]
        axes.plot([cast(float, best[knob.name])], height, "*", color=LIGHT.pick, ms=17, mec=LIGHT.paper, zorder=1.9)


def _trials(axes: "Axes", standing: Standing, knob: Knob, panel: Panel) -> None:
    """Trials of the panel's step; filled where everything else is as recommended, too."""
    other, level = panel
    space = standing.space
    points: dict[bool, list[Point]] = {True: [], False: []}
    for trial in standing.scored:
        if knob.name in trial.settings and (other is None or trial.settings.get(other.name) == level):
            value = cast(float, trial.settings[knob.name])
            on_slice = space.key(_arrangement(standing, knob, value, panel)) == space.key(trial.settings)
            points[on_slice].append((value, standing.score(trial)[0], said_of(standing, trial)))
    for on_slice, face in ((False, LIGHT.paper), (True, LIGHT.ink)):
        look = {"marker": "o", "color": LIGHT.ink, "markerfacecolor": face, "markeredgewidth": 1.2, "ls": "none"}
        draw_points(axes, points[on_slice], look)


def _explain(axes: "Axes") -> None:
    axes.plot([], [], color=LIGHT.belief, label="predicted with 90 % interval, rest as recommended")
    axes.plot([], [], "o", color=LIGHT.ink, label="trial with the rest as recommended")
    axes.plot([], [], "o", color=LIGHT.ink, markerfacecolor=LIGHT.paper, label="trial with something else changed")
    axes.plot([], [], "*", color=LIGHT.pick, markersize=13, mec=LIGHT.paper, label="recommended")
