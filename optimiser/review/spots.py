"""Saved mic spots, or any other alternatives: ranked by belief, and where they lie before the cone."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from optimiser.review.drawing import View, laid_out, legend_below, new_figure, own_look
from optimiser.review.palette import LIGHT
from optimiser.review.ranking import Alternative, draw_ranking, explain_ranking, foremost, ranking_rows
from optimiser.review.standing import Standing
from optimiser.space import MicSpot, Setting
from optimiser.units import INTERVAL_SDS

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_ROWS: Final = 12
"""Alternatives that still make a figure of readable height; the best by belief are shown."""

_NEAR: Final = 0.06
"""Part of the plane's width within which two numbers would cover each other."""


def spots(standing: Standing, setting: Setting, name: str) -> View:
    """What is predicted of each alternative of `setting`, everything else as recommended.

    Args:
        standing: where the study stands; something must be believed.
        setting: a setting whose values can be counted.
        name: the figure's short name.
    """
    found = _ranked(standing, setting)
    ranked = foremost(found, MOST_ROWS)
    plane = isinstance(setting, MicSpot) and bool(setting.places)
    with own_look():
        figure = new_figure(name, _finding(setting, found), 1.6 + 0.34 * len(ranked) + (2.5 if plane else 0.0))
        if plane and isinstance(setting, MicSpot):
            heights = [0.4 + 0.34 * len(ranked), 2.1]
            upper, lower = figure.subplots(2, 1, height_ratios=heights)
            _plane(lower, setting, [one.label for one in ranked])
        else:
            upper = figure.add_subplot()
        numbered = [
            replace(one, label=f"{place}  {one.label}" if plane else one.label)
            for place, one in enumerate(ranked, start=1)
        ]
        draw_ranking(upper, numbered)
        explain_ranking(upper)
        legend_below(figure, upper)
    return View(laid_out(figure), (setting.name, "predicted", "trials"), ranking_rows(ranked))


def _ranked(standing: Standing, setting: Setting) -> list[Alternative]:
    levels = setting.levels() or ()
    means, sds = standing.predicted([standing.varied(**{setting.name: level}) for level in levels])
    used = [trial.settings.get(setting.name) for trial in standing.study.in_state("measured")]
    own = standing.base.get(setting.name)
    rows = [
        Alternative(setting.show(level), float(mean), float(sd), used.count(level), level == own)
        for level, mean, sd in zip(levels, means, sds, strict=True)
        if np.isfinite(mean)
    ]
    return sorted(rows, key=lambda one: -one.mean)


def _finding(setting: Setting, ranked: Sequence[Alternative]) -> str:
    if len(ranked) < 2:
        return f"Only one {setting.name} is allowed with the recommended settings"
    first, second = ranked[:2]
    gap, doubt = first.mean - second.mean, float(np.hypot(first.sd, second.sd))
    if gap < 0.05:
        return f"{setting.name}: no difference is known yet"
    kept = next((one for one in ranked if one.kept), first)
    if kept is not first:
        why = ", which is surer" if kept.sd < first.sd else ""
        return f"{setting.name}: {first.label} is predicted highest; to keep: {kept.label}{why}"
    if gap < INTERVAL_SDS * doubt:
        return f"{setting.name}: {first.label} leads {second.label} by {gap:.1f} points, but not for sure"
    return f"{setting.name}: {first.label} is best, {gap:.1f} points ahead of {second.label}"


def _plane(axes: "Axes", setting: MicSpot, order: Sequence[str]) -> None:
    """The spots by offset and distance, numbered by rank; numbers that would cover each other share a place."""
    places = dict(zip(setting.names, setting.places, strict=True))
    points = np.array([places[label][:2] for label in order])
    spans = np.maximum(np.ptp(points, axis=0), 1e-9)
    groups: list[list[int]] = []
    for rank, point in enumerate(points):
        near = next((g for g in groups if np.all(np.abs(points[g[0]] - point) / spans < _NEAR)), None)
        if near is None:
            groups.append([rank])
        else:
            near.append(rank)
    for group in groups:
        x, y = points[group[0]]
        axes.plot([x], [y], "o", ms=7, color=LIGHT.belief)
        text = ", ".join(str(rank + 1) for rank in group)
        axes.annotate(text, (x, y), (6, 4), textcoords="offset points", weight="bold")
    axes.margins(0.12, 0.2)
    axes.grid()
    axes.set_xlabel("offset from the cone's centre (mm)")
    axes.set_ylabel("distance (mm)")
