"""How much each adviser counts for by now, beside the study's own trials."""

from dataclasses import dataclass

import numpy as np

from optimiser.proposals.advisers import Counsel, able, counsels_of
from optimiser.proposals.belief import Belief, believe
from optimiser.space import encoding
from optimiser.study import Study
from optimiser.surrogate import FLAT, Fitted, Product, advised, kernel_of, weights_of


@dataclass(frozen=True)
class Adviser:
    """An earlier study, and what it counts for.

    Attributes:
        study: its name.
        weight: share of what is believed of the scores' variation that rests on it, 0 to 1; with the share of the
            study's own trials all weights add up to 1.
        trials: how many of its trials could be used.
        ignored: what of it could not be carried over, in words; the reason when it cannot advise at all.
    """

    study: str
    weight: float
    trials: int
    ignored: tuple[str, ...] = ()


def weigh_advisers(study: Study) -> tuple[Adviser, ...]:
    """Every adviser of a study with its weight, by name."""
    counsels = counsels_of(study)
    if not counsels:
        return ()
    belief = believe(study)
    weights = _beforehand(study) if belief is None else _by_now(belief)
    return tuple(_adviser(counsel, weights.get(counsel.name, 0.0)) for counsel in counsels)


def _adviser(counsel: Counsel, weight: float) -> Adviser:
    if counsel.refusal:
        return Adviser(counsel.name, 0.0, 0, (counsel.refusal,))
    return Adviser(counsel.name, weight, len(counsel.translation.places), counsel.translation.ignored)


def _beforehand(study: Study) -> dict[str, float]:
    """What the advisers count for before any trial of the study's own."""
    advices = tuple(counsel.overall for counsel in able(study))
    kernel, _ = advised(kernel_of(encoding(study.sheet.space)), FLAT, advices)
    return weights_of(kernel, [np.array([prior.mean for prior in kernel.priors])])


def _by_now(belief: Belief) -> dict[str, float]:
    """The same after trials; where the score is believed by its parts, averaged by how much each part counts."""
    overall = belief.overall
    if isinstance(overall, Fitted):
        return _of(overall)
    if not isinstance(overall, Product):
        return {}
    found: dict[str, float] = {}
    for factor, power in zip(overall.factors, overall.powers, strict=True):
        for name, weight in _of(factor).items():
            found[name] = found.get(name, 0.0) + weight * power / sum(overall.powers)
    return found


def _of(fitted: Fitted) -> dict[str, float]:
    size = len(fitted.kernel.priors)
    return weights_of(fitted.kernel, [member.hyper[:size] for member in fitted.members])
