"""This package's own search: spread first, then log expected improvement, with repeats where they teach more."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.proposals.acquisition import averaged, knowledge_gradient, log_expected_improvement
from optimiser.proposals.belief import Belief
from optimiser.proposals.candidates import climb, spread
from optimiser.proposals.effort import cooling, handling_minutes
from optimiser.proposals.engines.choice import Choice, Wish
from optimiser.proposals.first_design import next_first
from optimiser.proposals.ground import nothing_left
from optimiser.space import Settings
from optimiser.surrogate import Array, Fitted

STARTS: Final = 6
"""Arrangements from which the promise is climbed (a choice, no source)."""

STEPS: Final = 12
"""Steps of one climb (a choice, no source)."""

REPEATABLE: Final = 3
"""So many of the best arrangements are weighed for a repeat (a choice, no source)."""

NEARLY: Final = 0.5
"""An easier arrangement is worth telling from this share of the proposal's expected gain on (a choice, no source)."""


@dataclass(frozen=True)
class Promise:
    """How much a trial at an arrangement promises, on a log scale, more being better.

    log expected improvement over the best arrangement tried, averaged over the belief's members, plus the log chance
    that the reading is accepted, minus a times the log of the minutes.

    Attributes:
        belief: what is believed.
        fitted: the same about the overall score, with the trials on their way taken as expected.
        best: the best mean among arrangements tried or on their way, one for each member, shape (members, 1).
        present: how the chain stands.
        weight: a, the exponent of the minutes.
    """

    belief: Belief
    fitted: Fitted
    best: Array
    present: Settings | None
    weight: float

    def gain(self, many: Sequence[Settings]) -> Array:
        """Log of expected improvement times chance in band, shape (m,)."""
        rows = self.belief.encode(many)
        means, variances = self.fitted.predict(rows)
        promise = averaged(log_expected_improvement(means, np.sqrt(variances), self.best))
        chance = self.belief.chance_in_band(rows)
        return promise if chance is None else promise + np.log(np.maximum(chance, 1e-12))

    def minutes(self, many: Sequence[Settings]) -> Array:
        """Minutes for a trial at each arrangement, shape (m,)."""
        base = max(self.belief.study.sheet.minutes_per_trial, 1e-3)
        return np.array([base + handling_minutes(self.belief.space, self.present, settings) for settings in many])

    def __call__(self, many: Sequence[Settings]) -> Array:
        """The promise, shape (m,)."""
        gain = self.gain(many)
        return gain - self.weight * np.log(self.minutes(many)) if self.weight > 0.0 else gain


def choose_own(wish: Wish) -> list[Choice]:
    """Arrangements to try next, the first as if alone, each further one knowing those before.

    Raises:
        NothingLeft: none may be proposed.
    """
    rng = np.random.default_rng(wish.seed)
    pending = [dict(trial.settings) for trial in wish.study.in_state("waiting")]
    chosen = _firsts(wish, rng)
    while wish.belief is not None and len(chosen) < wish.count:
        choice = _search(wish, wish.belief, pending + [choice.settings for choice in chosen], rng)
        if choice is None:
            break
        chosen.append(choice)
    if not chosen:
        raise nothing_left()
    return chosen


def _firsts(wish: Wish, rng: np.random.Generator) -> list[Choice]:
    """As many of the first design as are still to be made, or all that is wanted while nothing is known."""
    done = [dict(trial.settings) for trial in wish.study.in_state("measured", "failed", "waiting")]
    left = max(0, wish.study.sheet.policy.first_trials - len(done))
    count = wish.count if wish.belief is None else min(wish.count, left)
    chosen = next_first(wish.ground.without(*done), done, count, rng) if count else []
    return [Choice(settings, "first design") for settings in chosen]


def _search(wish: Wish, belief: Belief, pending: Sequence[Settings], rng: np.random.Generator) -> Choice | None:
    """The most promising new arrangement or the repeat that teaches more; None when neither may be proposed."""
    promise = _promise(wish, belief, pending)
    tried = _distinct(belief)
    ground = wish.ground.without(*tried, *pending)
    leaders = [settings for settings in _leaders(belief, tried) if wish.ground.permits(settings)]
    pool = spread(ground, wish.study.sheet.policy.candidates, rng)
    again = [settings for settings in leaders if settings not in pending]
    if not pool:
        place = _most_instructive(belief, tried, again)
        return None if place is None else Choice(again[place], "repeat")
    order = np.argsort(-promise(pool), kind="stable")
    ends = climb(ground, [*(pool[place] for place in order[:STARTS]), *leaders[:2]], promise, STEPS)
    ends = [end for end in ends if ground.permits(end[0])]
    winner = ends[0][0] if ends else pool[int(order[0])]
    place = _most_instructive(belief, [*tried, winner], [winner, *again])
    if place:
        return Choice(again[place - 1], "repeat")
    others = [end[0] for end in ends[1:]] + [pool[place] for place in order[:40]]
    return Choice(winner, "search", _easier(promise, winner, others))


def _promise(wish: Wish, belief: Belief, pending: Sequence[Settings]) -> Promise:
    fitted = belief.overall
    rows = belief.evidence.rows
    allowed = [wish.study.sheet.space.allows(settings) for settings in belief.evidence.settings]
    known = rows[allowed] if any(allowed) else rows
    if pending:
        on_their_way = belief.encode(pending)
        fitted = fitted.believing(on_their_way)
        known = np.concatenate([known, on_their_way])
    best = fitted.predict(known)[0].max(axis=1, keepdims=True)
    return Promise(belief, fitted, best, wish.present, cooling(wish.study))


def _distinct(belief: Belief) -> list[Settings]:
    return list({belief.space.key(settings): settings for settings in belief.evidence.settings}.values())


def _leaders(belief: Belief, tried: Sequence[Settings]) -> list[Settings]:
    """The few arrangements tried that are believed best."""
    means, _ = belief.mean_sd(tried)
    return [tried[place] for place in np.argsort(-means, kind="stable")[:REPEATABLE]]


def _most_instructive(belief: Belief, known: Sequence[Settings], choices: Sequence[Settings]) -> int | None:
    """Index of the choice, all of them known, whose trial is expected to raise the best believed score most."""
    if not choices:
        return None
    rows = belief.encode(known)
    places = [known.index(settings) for settings in choices]
    gains = np.zeros(len(places))
    for member in belief.overall.members:
        mean, covariance = belief.overall.joint(rows, member)
        noise = member.noise_variance * belief.overall.scale**2
        for index, place in enumerate(places):
            slopes = covariance[place] / np.sqrt(max(float(covariance[place, place]) + noise, 1e-12))
            gains[index] += knowledge_gradient(mean, slopes)
    return int(np.argmax(gains))


def _easier(promise: Promise, winner: Settings, others: Sequence[Settings]) -> tuple[Settings, ...]:
    together = [winner, *others]
    gains, minutes = promise.gain(together), promise.minutes(together)
    worth = (minutes < minutes[0] - 1e-9) & (gains >= gains[0] + np.log(NEARLY))
    return tuple(together[place] for place in np.argsort(-gains, kind="stable") if worth[place])[:1]
