"""Why these settings: what is expected, what is doubtful, and which earlier trial is nearest."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.proposals.acquisition import chance_above
from optimiser.proposals.belief import Belief
from optimiser.proposals.by_setting import by_setting
from optimiser.proposals.first_design import wanted_start
from optimiser.proposals.proposal import Portion
from optimiser.space import Settings, changes
from optimiser.study import StudySheet
from optimiser.surrogate import mixture
from optimiser.units import INTERVAL_SDS

MOSTLY: Final = 0.5
"""A setting that carries at least this share of the doubt is named alone (a choice, no source)."""

UNLIKELY: Final = 0.1
"""A trial with a lower chance of a new best says what else it is good for (a choice, no source)."""

LITTLE_POINTS: Final = 0.05
"""Points that are told as nothing (closed form: figures have one decimal)."""


@dataclass(frozen=True)
class Explanation:
    """What can be said of a proposal.

    Attributes:
        text: the reason in plain words.
        chance_best: chance to be better than the best tried so far.
        nearest: number of the measured trial whose true score moves most closely with that of the proposal.
        by_setting: what each setting's change from that trial adds to expectation and doubt.
    """

    text: str
    chance_best: float
    nearest: int
    by_setting: dict[str, Portion]


def first_reason(sheet: StudySheet, settings: Settings) -> str:
    """Why a trial is made while nothing has been measured."""
    start = wanted_start(sheet)
    if start is not None and sheet.space.key(start) == sheet.space.key(settings):
        return "where the wanted tone was recorded, to hear how well a capture follows the amp there"
    return "spread out to learn the space"


def advised_reason(names: Sequence[str]) -> str:
    """Why the first trial goes where earlier studies point."""
    told = " and ".join(repr(name) for name in names)
    return f"where {told} {'hold' if len(names) > 1 else 'holds'} the best, to see whether that is so here"


def explain(belief: Belief, settings: Settings, kind: str, lesson: float | None = None) -> Explanation:
    """Put a proposal into words.

    Args:
        belief: what is known.
        settings: those proposed.
        kind: of the proposal.
        lesson: points by which it is expected to raise the best believed score; None where that was not weighed.
    """
    rows = belief.encode([settings])
    means, variances = belief.foreseen(rows)
    best = belief.foreseen(belief.evidence.rows)[0].max(axis=1, keepdims=True)
    mean, sd = (float(part[0]) for part in mixture(means, variances))
    nearest = _nearest(belief, settings)
    portions = by_setting(belief, belief.evidence.settings[nearest], settings)
    chance = float(chance_above(means, np.sqrt(variances), best)[0])
    words = [
        _aim(kind, portions, mean, float(best.mean()), sd),
        _worth(lesson, chance),
        _likeness(belief, settings, nearest),
    ]
    return Explanation("; ".join(word for word in words if word), chance, belief.evidence.numbers[nearest], portions)


def _worth(lesson: float | None, chance: float) -> str:
    """What a trial is good for that is not likely to be a new best; also that it is good for little."""
    if lesson is None or (chance >= UNLIKELY and lesson >= LITTLE_POINTS):
        return ""
    if lesson < LITTLE_POINTS:
        return (
            "one trial tells little by now: it should lift what can be kept by under 0.1 points on average, and the "
            "outlook says whether more are worth it"
        )
    return f"hardly a new best itself, but what it tells should lift what can be kept by {lesson:.1f} points on average"


def _aim(kind: str, portions: dict[str, Portion], mean: float, best: float, sd: float) -> str:
    if kind == "first design":
        return "spread out to learn the space"
    if kind == "check":
        return "a check: the best so far again before anything new, so that what today reads high or low by is known"
    if kind == "repeat":
        return "again, since it may be the best and one result can be luck"
    if mean >= best + 0.25 * sd:
        return "mostly because it should be better"
    doubts = {name: portion.doubt for name, portion in portions.items() if portion.doubt > 0.0}
    named = sorted(doubts, key=lambda name: -doubts[name])
    most = named[:1] if named and doubts[named[0]] >= MOSTLY * sum(doubts.values()) else named[:2]
    doubtful = " and ".join(f"the {name}" for name in most)
    if mean >= best - 0.25 * sd:
        return f"as good as the best, and tells of {doubtful or 'what is least known'}"
    share = sum(doubts[name] for name in most)
    if INTERVAL_SDS * share < LITTLE_POINTS:
        return "mostly to learn more"
    much = "most" if share >= MOSTLY * sum(doubts.values()) else "much"
    return (
        f"mostly to learn more; {much} of the doubt about it, {INTERVAL_SDS * share:.1f} points, comes with {doubtful}"
    )


def _nearest(belief: Belief, settings: Settings) -> int:
    """Index of the measured value in the evidence whose true score moves most closely with that of these settings."""
    member = belief.overall.members[0]
    covariance = belief.overall.prior_covariance(belief.encode([settings]), belief.evidence.rows, member)
    return int(np.argmax(np.where(_measured(belief), covariance[0], -np.inf)))


def _measured(belief: Belief) -> NDArray[np.bool_]:
    """Which values of the evidence were measured: a run that failed gave none to argue from, shape (n,)."""
    return np.isin(belief.evidence.numbers, [trial.number or 0 for trial in belief.study.in_state("measured")])


def _likeness(belief: Belief, settings: Settings, nearest: int) -> str:
    other = belief.evidence.settings[nearest]
    number = belief.evidence.numbers[nearest]
    changed = changes(belief.space, other, settings)
    if not changed:
        return f"trial {number} again"
    return f"like trial {number} but {', '.join(str(change) for change in changed)}"
