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
from optimiser.units import plus_minus

MOSTLY: Final = 0.5
"""A setting that carries at least this share of the doubt is named alone (a choice, no source)."""


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


def explain(belief: Belief, settings: Settings, kind: str) -> Explanation:
    """Put a proposal into words."""
    rows = belief.encode([settings])
    means, variances = belief.overall.predict(rows)
    best = belief.overall.predict(belief.evidence.rows)[0].max(axis=1, keepdims=True)
    mean, sd = (float(part[0]) for part in mixture(means, variances))
    nearest = _nearest(belief, settings)
    portions = by_setting(belief, belief.evidence.settings[nearest], settings)
    words = [
        _aim(kind, portions, mean, float(best.mean()), sd),
        _expected(belief, settings),
        _likeness(belief, settings, nearest),
    ]
    chance = float(chance_above(means, np.sqrt(variances), best)[0])
    return Explanation("; ".join(word for word in words if word), chance, belief.evidence.numbers[nearest], portions)


def _expected(belief: Belief, settings: Settings) -> str:
    mean, sd = (float(part[0]) for part in belief.told([settings]))
    return f"expected {plus_minus(mean, sd, _decimals(sd))}"


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
    doubtful = " and ".join(f"the {name}" for name in most) or "what is least known"
    return (
        f"mostly exploring {doubtful}" if mean < best - 0.25 * sd else f"as good as the best, and tells of {doubtful}"
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


def _decimals(sd: float) -> int:
    """Digits after the point that a doubt of this size leaves meaningful."""
    return 0 if sd >= 1.0 else max(0, min(3, int(np.ceil(-np.log10(max(sd, 1e-3))))))
