"""The other way to take earlier studies in: beliefs averaged with weights by how well each ranks the new trials.

After [Feurer2018] (arXiv 1802.02219): a weight is the share of draws in which a belief misranks the fewest pairs of the
new trials, the new belief being judged on each trial left out; an adviser whose median loss lies above the 95th
percentile of the new belief's is left out. Kept to be compared with what is shipped.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from optimiser.proposals import belief
from optimiser.proposals.advisers import advices_on
from optimiser.surrogate import Advice, Posterior, draw
from optimiser.surrogate.checking import LeftOut
from tests.benchmarks.ablations import replaced

Array = NDArray[np.float64]

DRAWS: Final = 256
FEWEST: Final = 3
"""Trials before which every belief counts alike: fewer have too few pairs to be ranked."""


def rank_losses(draws: Array, values: Array) -> Array:
    """Pairs that each draw (s, n) ranks otherwise than values (n,) do, shape (s,)."""
    lower = draws[:, :, None] < draws[:, None, :]
    return np.asarray((lower != (values[:, None] < values[None, :])).sum(axis=(1, 2)) / 2)


def rank_weights(losses: Sequence[Array]) -> Array:
    """Weights from the losses of each adviser and, last, of the new belief, each (s,)."""
    own = losses[-1]
    kept = [np.median(loss) <= np.quantile(own, 0.95) for loss in losses[:-1]] + [True]
    stacked = np.where(np.array(kept)[:, None], np.stack(losses), np.inf)
    least = stacked == stacked.min(axis=0)
    least[:-1] &= ~least[-1]
    return np.asarray((least / least.sum(axis=0)).mean(axis=1))


@dataclass(frozen=True)
class Ranked:
    """An average of beliefs."""

    own: Any
    advices: tuple[Advice, ...]
    weights: tuple[float, ...]
    level: float

    @property
    def members(self) -> Any:
        return self.own.members

    @property
    def scale(self) -> float:
        return float(self.own.scale)

    @property
    def doubted(self) -> tuple[int, ...]:
        return tuple(self.own.doubted)

    def predict(self, rows: Array) -> tuple[Array, Array]:
        means, variances = self.own.predict(rows)
        means, variances = self.weights[-1] * means, self.weights[-1] ** 2 * variances
        for weight, advice in zip(self.weights, self.advices, strict=False):
            means = means + weight * (self.level + self.scale * advice.mean(rows))
            variances = variances + (weight * self.scale) ** 2 * advice.variance(rows)
        return means, variances

    def joint(self, rows: Array, member: Any) -> tuple[Array, Array]:
        mean, covariance = self.own.joint(rows, member)
        mean, covariance = self.weights[-1] * mean, self.weights[-1] ** 2 * covariance
        for weight, advice in zip(self.weights, self.advices, strict=False):
            mean = mean + weight * (self.level + self.scale * advice.mean(rows))
            covariance = covariance + (weight * self.scale) ** 2 * advice.covariance(rows, rows)
        return mean, covariance

    def believing(self, rows: Array) -> "Ranked":
        return replace(self, own=self.own.believing(rows))

    def prior_covariance(self, left: Array, right: Array, member: Any) -> Array:
        return np.asarray(self.own.prior_covariance(left, right, member))

    def left_out(self) -> LeftOut:
        found: LeftOut = self.own.left_out()
        return found

    def day_shifts(self) -> tuple[Array, Array] | None:
        found: tuple[Array, Array] | None = self.own.day_shifts()
        return found

    def day_variance(self) -> float:
        return float(self.own.day_variance())

    def noise(self) -> float:
        return float(self.own.noise())


_USUAL: Final = belief._overall


def _ranked(study: Any, evidence: Any, kernel: Any, effort: Any) -> Posterior:
    own: Posterior = _USUAL(replace(study, advisers=()), evidence, kernel, effort)
    advices = advices_on(study)
    if not advices:
        return own
    count = len(evidence)
    if count < FEWEST:
        return Ranked(own, advices, (1.0 / (1 + len(advices)),) * (1 + len(advices)), float(evidence.values.mean()))
    rng, left = np.random.default_rng(count), own.left_out()
    losses = []
    for advice in advices:
        normals = rng.normal(size=(DRAWS, count))
        drawn = draw(advice.mean(evidence.rows), advice.covariance(evidence.rows, evidence.rows), normals)
        losses.append(rank_losses(drawn, evidence.values))
    mine = left.predicted + left.sd * rng.normal(size=(DRAWS, count))
    losses.append(rank_losses(mine, evidence.values))
    return Ranked(own, advices, tuple(rank_weights(losses).tolist()), float(evidence.values.mean()))


@contextmanager
def ranked() -> Iterator[None]:
    """Beliefs averaged by rank in place of the shipped way."""
    with replaced([(belief, "_overall", _ranked)]):
        yield
