"""Whether to go on: how far the recommended settings may lie from the best reachable [Wilson2024]."""

import math
from functools import lru_cache
from typing import Any, Final

import numpy as np

from optimiser.proposals.belief import Belief
from optimiser.proposals.candidates import spread
from optimiser.proposals.day_shifts import day_shifts
from optimiser.proposals.effort import minutes_left
from optimiser.proposals.ground import Ground
from optimiser.proposals.proposal import Outlook, Recommendation
from optimiser.proposals.recommending import recommendation
from optimiser.study import seed_of_made
from optimiser.surrogate import draw

SURE: Final = 0.9
"""Chance of being near the best from which nothing more need be tried (a choice, no source)."""

SOBERING: Final = 0.65
"""Factor on the log odds of the chance that the draws give, which alone is too sure [Platt1999]. Fitted on 3,873
outlooks of 184 hunts (0.66; 0.69 with every hunt counted alike), checked on others (studies/proposals-benchmark)."""

COVERAGE: Final = 0.9
"""Share of trials that are to lie inside the interval that the others predict for them."""

CHECKABLE: Final = 5
"""Trials from which that is worth telling (a choice, no source)."""

RIVALS: Final = 150
"""Arrangements that might be better and are drawn together (a choice, no source)."""

DRAWS: Final = 64
"""Draws under each member of the belief (a choice, no source)."""


@lru_cache(maxsize=4)
def outlook_of(belief: Belief) -> Outlook:
    """What further trials could still gain over the settings kept now; the last few are remembered.

    The best reachable is drawn from the belief together with the score of the kept settings, over the arrangements
    that look most promising, so that chance and gain are those of the belief itself and of no bound.
    """
    study, kept = belief.study, recommendation(belief)
    rng = np.random.default_rng(seed_of_made(study))
    pool = spread(Ground(study.sheet.space, {}), study.sheet.policy.candidates, rng)
    mean, sd = belief.mean_sd(pool)
    rivals = [pool[place] for place in np.argsort(-(mean + 2.0 * sd), kind="stable")[:RIVALS]]
    rows = belief.encode([kept.settings, *rivals])
    losses, gains = [], []
    for member in belief.overall.members:
        centre, covariance = belief.overall.joint(rows, member)
        draws = draw(centre, covariance, rng.normal(size=(DRAWS, len(rows))))
        best, own = draws.max(axis=1), draws[:, 0]
        gains.append(belief.within(best) - belief.within(own))
        losses.append(gains[-1] if belief.made_of_parts else best - own)
    loss = np.concatenate(losses)
    eps = repeatability(belief)
    chance = sobered(int(np.sum(loss <= eps)), len(loss))
    return Outlook(
        gain_left=float(np.concatenate(gains).mean()),
        chance_near_best=chance,
        eps=eps,
        advice=_advice(belief, kept, chance),
        minutes_left=minutes_left(study),
        days=day_shifts(belief),
        **_checked(belief),
    )


def sobered(near: int, draws: int) -> float:
    """The chance to be told when `near` of `draws` draws lie near the best: never 0 or 1, drawn towards a half."""
    odds = (near + 0.5) / (draws - near + 0.5)
    return float(odds**SOBERING / (1.0 + odds**SOBERING))


def _checked(belief: Belief) -> dict[str, Any]:
    """How the belief's error bars stand up to its own trials, and which of them it does not trust."""
    numbers = np.array(belief.evidence.numbers)
    measured = np.isin(numbers, [trial.number or 0 for trial in belief.study.in_state("measured")])
    doubted = tuple(sorted(int(numbers[place]) for place in belief.overall.doubted if measured[place]))
    if measured.sum() < CHECKABLE:
        return {"doubted": doubted}
    inside = np.abs(belief.overall.left_out().ranks - 0.5) <= 0.5 * COVERAGE
    inside[np.isin(numbers, doubted)] = False
    return {"covered": int(inside[measured].sum()), "checked": int(measured.sum()), "doubted": doubted}


def repeatability(belief: Belief) -> float:
    """Standard deviation between repeats, within-take error included, in points."""
    return math.hypot(belief.overall.noise(), float(np.sqrt(np.mean(belief.evidence.errors**2))))


def _advice(belief: Belief, kept: Recommendation, chance: float) -> str:
    """Go on while better settings are likely; verify what was heard once; stop when it was heard twice."""
    if chance < SURE:
        return "go on"
    key = belief.space.key(kept.settings)
    heard = sum(belief.space.key(trial.settings) == key for trial in belief.study.in_state("measured"))
    return "stop" if heard > 1 else "verify"
