"""Riff orders: the best by belief, and which riff had better come before which."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING, Final, cast

import numpy as np
from numpy.typing import NDArray

from optimiser.review.drawing import View, laid_out, legend_below, new_figure, own_look, shortened
from optimiser.review.images import TIP
from optimiser.review.palette import LIGHT
from optimiser.review.ranking import Alternative, draw_ranking, explain_ranking, foremost, ranking_rows
from optimiser.review.standing import Standing
from optimiser.review.variance_shares import interval
from optimiser.space import RiffOrder

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_ORDERS: Final = 200
"""Orders over which precedences are averaged; of more a sample is drawn."""

DRAWS: Final = 200
"""Draws of the score for the intervals of the precedences."""

_SHOWN_ORDERS: Final = 5
_SHOWN_PAIRS: Final = 8
_SEED: Final = 0


def orders(standing: Standing, setting: RiffOrder) -> View:
    """The best orders by belief and the precedences of riffs, everything else as recommended."""
    if standing.belief is None:
        raise ValueError("nothing is believed yet")
    many = _orders(setting)
    arrangements = [standing.varied(**{setting.name: order}) for order in many]
    kept = [place for place, settings in enumerate(arrangements) if standing.space.allows(settings)]
    draws = standing.belief.draws([arrangements[place] for place in kept], DRAWS, _SEED)
    pairs = precedences(setting, [many[place] for place in kept], draws)[:_SHOWN_PAIRS]
    ranked = foremost(_ranked(standing, setting, many), _SHOWN_ORDERS)
    with own_look():
        finding = _finding(setting, pairs, standing.base.get(setting.name))
        figure = new_figure("riffs", finding, 2.6 + 0.5 * len(ranked) + 0.3 * len(pairs))
        upper, lower = figure.subplots(2, 1, height_ratios=[0.8 + 0.5 * len(ranked), 0.6 + 0.3 * len(pairs)])
        draw_ranking(upper, [_two_lines(one) for one in ranked], letters=60)
        _draw_pairs(lower, pairs)
        explain_ranking(upper)
        legend_below(figure, upper)
    precedence_rows = (
        (f"{p.first} before {p.then}", f"{p.gain:+.1f} ({p.low:+.1f} to {p.high:+.1f})", "") for p in pairs
    )
    return View(
        laid_out(figure), (setting.name, "predicted, or gain", "trials"), (*ranking_rows(ranked), *precedence_rows)
    )


def _ranked(standing: Standing, setting: RiffOrder, many: Sequence[Sequence[str]]) -> list[Alternative]:
    """These orders, those that were tried and the recommended one, the best by belief first."""
    used = [
        tuple(trial.settings[setting.name])
        for trial in standing.study.in_state("measured")
        if setting.name in trial.settings
    ]
    own = standing.base.get(setting.name)
    known = [tuple(cast(list[str], own))] if own is not None else []
    all_orders = list(dict.fromkeys([*known, *used, *map(tuple, many)]))
    means, sds = standing.predicted([standing.varied(**{setting.name: list(order)}) for order in all_orders])
    rows = [
        Alternative(" · ".join(order), float(mean), float(sd), used.count(order), order in known)
        for order, mean, sd in zip(all_orders, means, sds, strict=True)
        if np.isfinite(mean)
    ]
    return sorted(rows, key=lambda one: -one.mean)


def _two_lines(one: Alternative) -> Alternative:
    names = [shortened(name, 12) for name in one.label.split(" · ")]
    half = -(-len(names) // 2)
    label = " · ".join(names[:half]) + ("\n" + " · ".join(names[half:]) if names[half:] else "")
    return replace(one, label=label)


def _orders(setting: RiffOrder) -> list[list[str]]:
    levels = setting.levels()
    if levels is not None and len(levels) <= MOST_ORDERS:
        return [cast(list[str], level) for level in levels]
    rng = np.random.default_rng(_SEED)
    drawn = {tuple(setting.sample(rng)) for _ in range(MOST_ORDERS)}
    return [list(order) for order in sorted(drawn)]


@dataclass(frozen=True)
class Precedence:
    """What it brings to play one riff before another.

    Attributes:
        first: the riff that had better come first.
        then: the other.
        gain: points gained by that precedence, not negative.
        low: lower end of the gain's 90 % interval.
        high: upper end of it.
    """

    first: str
    then: str
    gain: float
    low: float
    high: float


def precedences(setting: RiffOrder, many: Sequence[Sequence[str]], draws: NDArray[np.float64]) -> list[Precedence]:
    """What it brings to play one riff before another, averaged over the orders of all others, the largest gain first.

    Args:
        setting: the riffs.
        many: orders.
        draws: the score of each order, shape (draws, len(many)).
    """
    found = []
    for one, other in combinations(setting.riffs, 2):
        before = np.array([_stands_before(order, one, other) for order in many])
        if not (np.any(before > 0) and np.any(before < 0)):
            continue
        gains = draws[:, before > 0].mean(axis=1) - draws[:, before < 0].mean(axis=1)
        low, high = interval(gains)
        gain = float(gains.mean())
        found.append(
            Precedence(one, other, gain, low, high) if gain >= 0 else Precedence(other, one, -gain, -high, -low)
        )
    return sorted(found, key=lambda pair: -pair.gain)


def _stands_before(order: Sequence[str], one: str, other: str) -> int:
    if one not in order or other not in order:
        return 0
    return 1 if order.index(one) < order.index(other) else -1


def _draw_pairs(axes: "Axes", pairs: Sequence[Precedence]) -> None:
    axes.grid(axis="x")
    axes.axvline(0, color=LIGHT.quiet, lw=1.0)
    for place, pair in enumerate(pairs):
        axes.plot([pair.low, pair.high], [place] * 2, color=LIGHT.belief, lw=1.4)
        (drawn,) = axes.plot([pair.gain], [place], "D", ms=6, color=LIGHT.belief)
        drawn.set_gid(f"{TIP}{pair.first} before {pair.then}: {pair.gain:+.1f} ({pair.low:+.1f} to {pair.high:+.1f})")
    labels = [f"{shortened(pair.first, 11)} before {shortened(pair.then, 11)}" for pair in pairs]
    axes.set_yticks(np.arange(len(pairs)), labels)
    axes.set_ylim(len(pairs) - 0.4, -0.6)
    axes.set_xlabel("points gained")


def _finding(setting: RiffOrder, pairs: Sequence[Precedence], kept: object) -> str:
    """The surest precedence, best one that the recommended order keeps to."""
    sure = [pair for pair in pairs if pair.low > 0]
    if not sure:
        return f"Whether the order of {setting.name} matters is not known yet"
    own = cast(list[str], kept or [])
    followed = [pair for pair in sure if _stands_before(own, pair.first, pair.then) >= 0]
    if followed:
        return f"Play {followed[0].first} before {followed[0].then}: worth {followed[0].gain:.1f} points"
    told = f"{sure[0].first} before {sure[0].then} is worth {sure[0].gain:.1f} points on average"
    return f"{told}, though the order to keep has {sure[0].then} first"
