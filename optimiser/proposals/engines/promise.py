"""How much a trial at any arrangement promises: what is climbed to find the few that are weighed against each other."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimiser.proposals.acquisition import averaged, log_expected_improvement
from optimiser.proposals.belief import Belief
from optimiser.proposals.effort import Pace, pace_of
from optimiser.proposals.engines.choice import Wish
from optimiser.space import Settings
from optimiser.surrogate import Array, Posterior


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
        pace: what trials cost.
    """

    belief: Belief
    fitted: Posterior
    best: Array
    present: Settings | None
    pace: Pace

    def gain(self, many: Sequence[Settings]) -> Array:
        """Log of expected improvement times chance in band, shape (m,)."""
        rows = self.belief.encode(many)
        means, variances = self._foreseen(rows)
        promise = averaged(log_expected_improvement(means, np.sqrt(variances), self.best))
        chance = self.belief.chance_in_band(rows)
        return promise if chance is None else promise + np.log(np.maximum(chance, 1e-12))

    def _foreseen(self, rows: Array) -> tuple[Array, Array]:
        return self.belief.foreseen(rows) if self.fitted is self.belief.overall else self.fitted.predict(rows)

    def __call__(self, many: Sequence[Settings]) -> Array:
        """The promise, shape (m,)."""
        return self.pace.priced(self.gain(many), self.present, many)


def promise_of(wish: Wish, belief: Belief, pending: Sequence[Settings]) -> Promise:
    """What trials promise, with those on their way taken as expected."""
    fitted = belief.overall
    rows = belief.evidence.rows
    allowed = [wish.study.sheet.space.allows(settings) for settings in belief.evidence.settings]
    known = rows[allowed] if any(allowed) else rows
    if pending:
        on_their_way = belief.encode(pending)
        fitted = fitted.believing(on_their_way)
        known = np.concatenate([known, on_their_way])
    best = (fitted.predict(known) if pending else belief.foreseen(known))[0].max(axis=1, keepdims=True)
    return Promise(belief, fitted, best, wish.present, pace_of(wish.study))
