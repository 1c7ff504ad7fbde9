"""The parts of the score by trial, one small panel for each."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from optimiser.review.drawing import MOST_SPEAKING, View, draw_points, laid_out, new_figure, own_look, trial_ticks
from optimiser.review.palette import LIGHT
from optimiser.review.standing import Standing, number_of
from optimiser.study import StudyState, Trial
from optimiser.units import show_number

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PANELS: Final = 12
"""Panels that still make a figure of readable height."""

_FIGURES: Final = (
    ("match", "match (0-100)", 1.0),
    ("goal", "goal (0-100)", 1.0),
    ("articulation_kept", "articulation kept (%)", 100.0),
    ("ear", "ear rating (0-10)", 1.0),
    ("reading", "reading", 1.0),
)


def parts_by_trial(state: StudyState) -> dict[str, dict[int, float]]:
    """Every figure kept of the measured trials, by name and trial number.

    Parts of the match score come from the trials' details, in steps: how far capture and reference are apart, 0 being
    alike.
    """
    found: dict[str, dict[int, float]] = {}
    for trial in state.study.in_state("measured"):
        number = number_of(trial)
        for name, label, factor in _FIGURES:
            figure = getattr(trial, name)
            if figure is not None:
                found.setdefault(label, {})[number] = factor * figure
        for name, steps in match_parts(state, trial).items():
            found.setdefault(f"{name} (steps apart)", {})[number] = steps
    return found


def match_parts(state: StudyState, trial: Trial) -> dict[str, float]:
    """The parts of a trial's match score in steps, as far as they were kept."""
    kept: Sequence[Mapping[str, Any]] = state.details.get(number_of(trial), {}).get("parts") or ()
    return {str(part["name"]): float(part["steps"]) for part in kept if part.get("steps") is not None}


def parts_figure(standing: Standing) -> View | None:
    """One panel for each part with at least two trials; None when there are no such parts."""
    parts = {name: by for name, by in parts_by_trial(standing.state).items() if len(by) > 1}
    if not parts:
        return None
    shown = list(parts.items())[:MOST_PANELS]
    lines = -(-len(shown) // 2)
    numbers = [number for by in parts.values() for number in by]
    with own_look():
        figure = new_figure("parts", finding(standing), 1.1 + 1.2 * lines)
        for (name, by), axes in zip(shown, _panels(figure, lines, wide=len(shown) % 2 == 1), strict=True):
            axes.grid(axis="y")
            axes.set_title(name, loc="left")
            axes.set_xlim(min(numbers) - 0.7, max(numbers) + 0.7)
            axes.plot(list(by), list(by.values()), color=LIGHT.quiet, lw=0.9)
            points = [(number, height, f"Trial {number}, {name}: {height:.3g}") for number, height in by.items()]
            if len(points) <= MOST_SPEAKING:
                draw_points(axes, points, {"marker": "o", "ms": 5, "color": LIGHT.ink, "ls": "none"})
    head = ("trial", *parts)
    rows = tuple(
        (str(number), *(show_number(by[number]) if number in by else "" for by in parts.values()))
        for number in sorted(set(numbers))
    )
    return View(laid_out(figure), head, rows)


def _panels(figure: "Figure", rows: int, *, wide: bool) -> "list[Axes]":
    """Two columns of panels of which the first takes a whole row when `wide`; ticks are written below the last two."""
    grid = figure.add_gridspec(rows, 2)
    cells = [grid[0, :]] if wide else [grid[0, 0], grid[0, 1]]
    cells += [grid[row, column] for row in range(1, rows) for column in (0, 1)]
    panels = [figure.add_subplot(cell) for cell in cells]
    for place, axes in enumerate(panels):
        trial_ticks(axes, most=4)
        if place < len(panels) - 2:
            axes.set_xlabel("")
            axes.tick_params(labelbottom=False)
    return panels


def finding(standing: Standing) -> str:
    """Which part of the match score keeps capture and reference apart in the best trial."""
    best = standing.best
    steps = match_parts(standing.state, best) if best is not None else {}
    if best is None or not steps:
        return "The parts of the score by trial"
    worst = max(steps, key=lambda name: steps[name])
    if not np.isfinite(steps[worst]) or steps[worst] <= 0:
        return f"Nothing in trial {best.number} tells capture and reference apart"
    return f"In trial {best.number} the {worst} is furthest from the reference: {steps[worst]:.1f} steps"
