"""This package's own search: spread first, then what is expected to teach most about the best arrangement.

Expected improvement is climbed over the whole space to find the few arrangements that are worth weighing; among those
and repeats of the best so far the knowledge gradient decides: it counts what a noisy trial tells of the others too.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from optimiser.proposals.acquisition import knowledge_gradient
from optimiser.proposals.advisers import able, advised_start
from optimiser.proposals.belief import Belief
from optimiser.proposals.candidates import climb, spread
from optimiser.proposals.check_trial import KNOWN_TRIALS, check_pays
from optimiser.proposals.effort import pace_of
from optimiser.proposals.engines.choice import Choice, Wish
from optimiser.proposals.engines.promise import Promise, promise_of
from optimiser.proposals.first_design import next_first, wanted_start
from optimiser.proposals.ground import nothing_left
from optimiser.space import Settings
from optimiser.surrogate import Array

STARTS: Final = 6
"""Arrangements from which the promise is climbed (a choice, no source)."""

SETTLED_STARTS: Final = 3
"""So many once the belief is settled, beside the best arrangement tried (as in recommending.py)."""

STEPS: Final = 12
"""Steps of one climb (a choice, no source)."""

WEIGHED: Final = 12
"""So many of the most promising arrangements are weighed beside the ends of the climbs (a choice, no source)."""

RIVALS: Final = 60
"""So many arrangements may turn out best after the trial that is weighed (a choice, no source)."""

REPEATABLE: Final = 3
"""So many of the best arrangements are weighed for a repeat (a choice, no source)."""

FIRST_FROM_WANTED: Final = 2
"""Trials of the first design where the wanted tone's settings are known: those, and one spread out from them. More lost
time, and one alone ran into the nearest ridge (tried on the rehearsal amp, studies/proposals-benchmark)."""

EASIER_MINUTES: Final = 0.5
"""Handling that must be saved before an easier arrangement is worth telling (a choice, no source)."""

SPREAD_BESIDE_ADVICE: Final = 3
"""Trials of the first design after the one where the advisers hold the best, by which they are found out when they
mislead. With one the outlook was far too sure, with five nothing more was gained (tuning draw of studies/advisers)."""

NEARLY: Final = 0.5
"""An easier arrangement is worth telling from this share of the proposal's expected gain on (a choice, no source)."""


@dataclass(frozen=True)
class Field:
    """What is weighed for one trial.

    Attributes:
        fresh: new arrangements that may be tried.
        again: arrangements tried that may be tried again.
        rivals: further arrangements that may turn out best.
    """

    fresh: list[Settings]
    again: list[Settings]
    rivals: list[Settings]


def choose_own(wish: Wish) -> list[Choice]:
    """Arrangements to try next, the first as if alone, each further one knowing those before.

    Raises:
        NothingLeft: none may be proposed.
    """
    rng = np.random.default_rng(wish.seed)
    pending = [dict(trial.settings) for trial in wish.study.in_state("waiting")]
    untouched = rng.bit_generator.state
    check, look = _check(wish)
    chosen = check or _firsts(wish, rng)
    while wish.belief is not None and len(chosen) < wish.count:
        first = not pending and not chosen and rng.bit_generator.state == untouched
        seen = look if look is not None and first else _look(wish, wish.belief, _settings(pending, chosen), rng)
        rng.bit_generator.state = seen.after
        choice = _search(wish, wish.belief, seen)
        if choice is None:
            break
        chosen.append(choice)
    if not chosen:
        raise nothing_left()
    return chosen


def _settings(pending: Sequence[Settings], chosen: Sequence[Choice]) -> list[Settings]:
    return [*pending, *(choice.settings for choice in chosen)]


def _check(wish: Wish) -> tuple[list[Choice], "_Look | None"]:
    """The best arrangement tried, when a new day is better begun with it than with something new; what was seen."""
    belief = wish.belief
    if not wish.new_day or belief is None or len(belief.evidence) < KNOWN_TRIALS:
        return [], None
    ground = replace(wish.ground, declined=())
    best = next((settings for settings in _leaders(belief, _tried(belief)) if ground.permits(settings)), None)
    if best is None:
        return [], None
    look = _look(wish, belief, [], np.random.default_rng(wish.seed))
    pays = check_pays(belief, best, look.field.fresh, [*_tried(belief), *look.field.rivals])
    return [Choice(best, "check")] if pays else [], look


def _tried(belief: Belief) -> list[Settings]:
    """Each arrangement tried, once."""
    return list({belief.space.key(settings): settings for settings in belief.evidence.settings}.values())


def _firsts(wish: Wish, rng: np.random.Generator) -> list[Choice]:
    """As many of the first design as are still to be made, or all that is wanted while nothing is known."""
    done = [dict(trial.settings) for trial in wish.study.in_state("measured", "failed", "waiting")]
    advised, wanted = _advised(wish, done, rng), _wanted(wish)
    starts = [*advised, *(wanted if len(done) < 1 + bool(able(wish.study)) else [])]
    left = max(0, _planned(wish, wanted) - len(done))
    count = wish.count if wish.belief is None else min(wish.count, left)
    chosen = [start for start in starts if start not in done and wish.ground.permits(start)][:count]
    ground = wish.ground.without(*done, *chosen)
    present = chosen[-1] if chosen else wish.present
    for _ in range(count - len(chosen)):
        following = next_first(ground, [*done, *chosen], pace_of(wish.study), present, rng)
        if following is None:
            break
        chosen.append(following)
        ground, present = ground.without(following), following
    return [Choice(settings, "first design", advised=settings in advised) for settings in chosen]


def _advised(wish: Wish, done: Sequence[Settings], rng: np.random.Generator) -> list[Settings]:
    """Where the advisers hold the best, before the first trial."""
    counsels = able(wish.study)
    if done or not counsels:
        return []
    return [advised_start(wish.ground, counsels, wish.study.sheet.policy.candidates, rng)]


def _wanted(wish: Wish) -> list[Settings]:
    """The settings of the wanted tone, where they are known and count."""
    start = wanted_start(wish.study.sheet) if wish.study.sheet.policy.trade_rules else None
    return [] if start is None else [start]


def _planned(wish: Wish, wanted: Sequence[Settings]) -> int:
    """Trials of the first design."""
    if able(wish.study):
        return 1 + (FIRST_FROM_WANTED if wanted else SPREAD_BESIDE_ADVICE)
    return FIRST_FROM_WANTED if wanted else wish.study.sheet.policy.first_trials


@dataclass(frozen=True)
class _Look:
    """What was found on one look round.

    Attributes:
        promise: how much each arrangement promises, with those on their way taken as expected.
        field: what is weighed.
        after: state of the random generator afterwards.
    """

    promise: Promise
    field: Field
    after: Mapping[str, Any]


def _look(wish: Wish, belief: Belief, pending: Sequence[Settings], rng: np.random.Generator) -> _Look:
    promise = promise_of(wish, belief, pending)
    field = _field(wish, promise, _tried(belief), pending, rng)
    return _Look(promise, field, rng.bit_generator.state)


def _search(wish: Wish, belief: Belief, look: _Look) -> Choice | None:
    """The new arrangement or the repeat that teaches most; None when nothing may be proposed."""
    promise, field, tried = look.promise, look.field, _tried(belief)
    choices = [*field.fresh, *field.again]
    if not choices:
        return None
    worth = _lessons(promise, choices, [*tried, *field.rivals])
    minutes = promise.pace.minutes(wish.present, choices)
    best = int(np.argmax(promise.pace.priced(worth, wish.present, choices)))
    easier = (minutes <= minutes[best] - EASIER_MINUTES) & (worth >= worth[best] + np.log(NEARLY))
    easier[len(field.fresh) :] = False
    others = [choices[place] for place in np.argsort(-worth, kind="stable") if easier[place]]
    kind = "search" if best < len(field.fresh) else "repeat"
    return Choice(choices[best], kind, tuple(others[:1]), lesson=float(np.exp(worth[best])))


def _field(
    wish: Wish, promise: Promise, tried: Sequence[Settings], pending: Sequence[Settings], rng: np.random.Generator
) -> Field:
    """The most promising new arrangements, the best old ones, and those that may turn out best."""
    leaders = [settings for settings in _leaders(promise.belief, tried) if wish.ground.permits(settings)]
    again = [settings for settings in leaders if settings not in pending]
    ground = wish.ground.without(*tried, *pending)
    pool = spread(ground, wish.study.sheet.policy.candidates, rng)
    if not pool:
        return Field([], again, [])
    order = np.argsort(-promise(pool), kind="stable").tolist()
    count, best = (SETTLED_STARTS, leaders[:1]) if promise.belief.settled else (STARTS, leaders[:2])
    ends = climb(ground, [*(pool[place] for place in order[:count]), *best], promise, STEPS)
    fresh = [settings for settings, _ in ends if ground.permits(settings)]
    fresh += [pool[place] for place in order[:WEIGHED]]
    mean, sd = promise.belief.mean_sd(pool)
    rivals = [pool[place] for place in np.argsort(-(mean + sd), kind="stable")[:RIVALS]]
    return Field(list({ground.mark(settings): settings for settings in fresh}.values()), again, rivals)


def _leaders(belief: Belief, tried: Sequence[Settings]) -> list[Settings]:
    """The few arrangements tried that are believed best."""
    means, _ = belief.mean_sd(tried)
    return [tried[place] for place in np.argsort(-means, kind="stable")[:REPEATABLE]]


def _lessons(promise: Promise, choices: Sequence[Settings], others: Sequence[Settings]) -> Array:
    """For each choice the log of how far a trial there is expected to raise the best believed score, shape (m,).

    The best is taken over choices and others alike; the chance that the reading is accepted multiplies the gain.
    """
    known = list({str(settings): settings for settings in [*choices, *others]}.values())
    places = [known.index(settings) for settings in choices]
    fitted, rows = promise.fitted, promise.belief.encode(known)
    gains = np.zeros(len(places))
    for member in fitted.members:
        mean, covariance = fitted.joint(rows, member)
        noise = member.noise_variance * fitted.scale**2
        for index, place in enumerate(places):
            slopes = covariance[place] / np.sqrt(max(float(covariance[place, place]) + noise, 1e-12))
            gains[index] += knowledge_gradient(mean, slopes) / len(fitted.members)
    chance = promise.belief.chance_in_band(promise.belief.encode(choices))
    return np.log(np.maximum(gains, 1e-12)) + (0.0 if chance is None else np.log(np.maximum(chance, 1e-12)))
