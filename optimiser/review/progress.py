"""Every trial's overall score with its error, and the best so far by belief."""

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from optimiser.review.drawing import (
    MARKS,
    Mark,
    View,
    draw_points,
    laid_out,
    legend_below,
    new_figure,
    own_look,
    trial_ticks,
)
from optimiser.review.palette import LIGHT
from optimiser.review.standing import Standing, alike, alike_in_words, ends_of, number_of, plus_minus
from optimiser.study import STATE_WORDS, Trial

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_DAY_ROOM: Final = 0.17
"""Part of the width that the name of a day takes."""


def progress(standing: Standing) -> View:
    """Overall score by trial: marks with 90 % intervals, the best so far by belief, day boundaries."""
    with own_look():
        figure = new_figure("progress", finding(standing), 3.7)
        axes = figure.add_subplot()
        axes.grid(axis="y")
        _best_so_far(axes, standing)
        _marks(axes, standing)
        _days(axes, standing.study.trials)
        trial_ticks(axes)
        axes.set_ylabel("overall score (points)")
        axes.plot([], [], color=LIGHT.ink, lw=0.9, label="90 % interval")
        legend_below(figure, axes)
    return View(laid_out(figure), ("trial", "state", "overall", "believed of its settings"), _rows(standing))


def _rows(standing: Standing) -> tuple[tuple[str, ...], ...]:
    rows = []
    for trial in standing.study.trials:
        overall, sd = standing.score(trial)
        measured = "" if np.isnan(overall) else plus_minus(overall, sd)
        believed = standing.believed.get(number_of(trial))
        rows.append((str(trial.number), trial.state, measured, plus_minus(*believed) if believed else ""))
    return tuple(rows)


def finding(standing: Standing) -> str:
    """The best trial so far in a sentence."""
    best = standing.best
    if best is None:
        return "No trial has a score yet"
    highest = standing.highest or best
    overall, level = standing.score(highest)[0], standing.levelled(highest)
    read = f"{level:.1f}{'' if f'{level:.1f}' == f'{overall:.1f}' else ' with its day taken off'}"
    same = alike(standing.levels, number_of(best))
    if highest is best:
        return f"Trial {best.number} is best so far: {read}{alike_in_words(same)}"
    believed = f"Trial {best.number} is best so far by belief: {plus_minus(*standing.believed[number_of(best)])}"
    if number_of(highest) in same:
        return f"{believed}{alike_in_words(same)}"
    return f"{believed}; trial {highest.number} read {read}, which may be luck"


def mark_of(standing: Standing, trial: Trial) -> Mark:
    """How a trial is drawn."""
    if trial.state == "measured":
        if standing.study.overall(trial) is None:
            return MARKS["partial"]
        kind = standing.kind(trial)
        return MARKS.get("repeat" if kind == "check" else kind, MARKS["search"])
    return MARKS[trial.state if trial.state in MARKS else "void"]


def said_of(standing: Standing, trial: Trial) -> str:
    """A trial in a short sentence, for those who point at its mark."""
    height = _height(standing, trial)
    if trial in standing.scored:
        return f"Trial {trial.number}: {plus_minus(*standing.score(trial))}"
    if height is not None:
        return f"Trial {trial.number}, {trial.state}: predicted {plus_minus(*height)}"
    return f"Trial {trial.number}: {STATE_WORDS.get(trial.state, trial.state)}"


def _best_so_far(axes: "Axes", standing: Standing) -> None:
    if not standing.scored:
        return
    numbers = [number_of(trial) for trial in standing.scored]
    beliefs = [standing.believed[number] for number in numbers]
    leaders = np.maximum.accumulate([mean for mean, _ in beliefs])
    doubts = [next(sd for mean, sd in beliefs if mean == leader) for leader in leaders]
    ends = ends_of(leaders, np.array(doubts))
    axes.fill_between(numbers, *ends, step="post", color=LIGHT.belief, alpha=0.18, linewidth=0)
    axes.plot(numbers, leaders, drawstyle="steps-post", color=LIGHT.belief, zorder=3, label="best so far by belief")


def _marks(axes: "Axes", standing: Standing) -> None:
    """Trials at their score or at what is predicted of them; those without either along the bottom."""
    heights = {number_of(trial): _height(standing, trial) for trial in standing.study.trials}
    for mark in MARKS.values():
        own = [trial for trial in standing.study.trials if mark_of(standing, trial) is mark]
        high = [(number_of(trial), heights[number_of(trial)], said_of(standing, trial)) for trial in own]
        placed = [(number, height, said) for number, height, said in high if height is not None]
        numbers, means = [number for number, _, _ in placed], np.array([height[0] for _, height, _ in placed])
        ends = ends_of(means, np.array([height[1] for _, height, _ in placed]))
        look = {"label": mark.label, **mark.keywords()}
        if placed:
            axes.vlines(numbers, *ends, color=mark.colour, lw=0.9)
            draw_points(axes, [(number, height[0], said) for number, height, said in placed], look)
        low = [(number, 0.03, said) for number, height, said in high if height is None]
        if low:
            draw_points(axes, low, {**look, "transform": axes.get_xaxis_transform()})


def _height(standing: Standing, trial: Trial) -> tuple[float, float] | None:
    """Score, or what is predicted of a trial without one, and its standard deviation."""
    if standing.study.overall(trial) is not None:
        return standing.score(trial)
    return standing.believed.get(number_of(trial)) if trial.state in ("measured", "waiting") else None


def _days(axes: "Axes", trials: Sequence[Trial]) -> None:
    """Where the day changes from trial to trial; a trial made again later stands between those of other days."""
    dated = [trial for trial in trials if trial.day and trial.number]
    changed = [(number_of(b) - 0.5, b.day or "") for a, b in pairwise(dated) if a.day != b.day]
    if not changed:
        return
    for start, _ in changed:
        axes.axvline(start, color=LIGHT.quiet, lw=0.9, linestyle=(0, (4, 3)))
    first, last = axes.get_xlim()
    free, days = first, sorted({trial.day or "" for trial in dated})
    for start, day in [(first, dated[0].day or ""), *changed]:
        if start >= free:
            said = f" day {days.index(day) + 1}"
            axes.text(start, 1.0, said, transform=axes.get_xaxis_transform(), va="bottom", color=LIGHT.quiet)
            free = start + _DAY_ROOM * (last - first)
    axes.set_xlim(first, last)
