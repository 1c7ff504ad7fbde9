"""What earlier studies on related chains say of this one: which of it can be carried over, and what it counts for."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Final

import numpy as np

from optimiser.proposals.candidates import climb, spread
from optimiser.proposals.evidence import Evidence, factors_of, overall_evidence
from optimiser.proposals.ground import Ground, nothing_left
from optimiser.proposals.rows import Encoder
from optimiser.space import Settings, Translation, translate
from optimiser.study import Study, StudySheet, canonical_json, sheet_to_tables, study_to_json
from optimiser.surrogate import Advice, Array, Effort, fit, kernel_of

LEAST_TRIALS: Final = 5
"""Scored trials that an adviser must have (a choice, no source)."""

MEMBERS: Final = 2
"""Sets of scales over which an adviser's belief is averaged (a choice for speed, no source)."""

LEARNT_FROM: Final = 80
"""Trials from which an adviser's scales are learnt, as of a settled belief; every trial counts in what it says."""

CAUTION: Final = 0.5
"""Standard deviations taken off what an adviser expects, as of a recommendation (a choice, no source)."""

STARTS: Final = 6
"""Arrangements from which better ones are looked for (a choice, no source)."""

STEPS: Final = 12
"""Steps of one climb (a choice, no source)."""


@dataclass(frozen=True)
class Counsel:
    """One adviser, read against the study that it advises.

    Attributes:
        adviser: the earlier study, its overall scores by the weights of the new one.
        sheet: that of the new study.
    """

    adviser: Study
    sheet: StudySheet

    @property
    def name(self) -> str:
        """Of the adviser."""
        return self.adviser.sheet.name

    @cached_property
    def evidence(self) -> Evidence:
        """The adviser's overall scores."""
        return overall_evidence(self.adviser)

    @cached_property
    def translation(self) -> Translation:
        """Where its trials lie in the new space."""
        return self._translated(self.evidence)

    @property
    def refusal(self) -> str:
        """Why it cannot advise, empty when it can."""
        if not self.translation.blocks:
            return f"{self.name} has no setting in common with {self.sheet.name}"
        usable = len(self.translation.places)
        if usable < LEAST_TRIALS:
            return f"{self.name} has {usable} scored trials that {self.sheet.name} can use, and needs {LEAST_TRIALS}"
        return ""

    @cached_property
    def parts(self) -> dict[str, tuple[float, Advice]]:
        """What it holds of the logarithm of each part, with the power of each; nothing when it knows no parts."""
        return {f.name: (f.power, self._advice(f.logs)) for f in factors_of(self.adviser)[1]}

    @cached_property
    def overall(self) -> Advice:
        """What it holds of the overall score."""
        return self._advice(self.evidence)

    def worth(self, rows: Array, caution: float) -> Array:
        """How good it holds rows to be, less some of its doubt, on a scale of its own, shape (m,)."""
        terms = self.parts.values() or [(1.0, self.overall)]
        mean = np.sum([power * advice.fitted.scale * advice.mean(rows) for power, advice in terms], axis=0)
        square = np.sum([(power * advice.fitted.scale) ** 2 * advice.variance(rows) for power, advice in terms], axis=0)
        return np.asarray(mean - caution * np.sqrt(square))

    def _advice(self, seen: Evidence) -> Advice:
        translation = self._translated(seen)
        kept = list(translation.places)
        fitted = fit(
            kernel_of(translation.blocks),
            translation.rows,
            seen.values[kept],
            seen.errors[kept],
            within=seen.within[kept],
            days=[seen.days[place] for place in kept],
            effort=Effort(members=MEMBERS, learning=LEARNT_FROM),
        )
        return Advice(self.name, fitted)

    def _translated(self, seen: Evidence) -> Translation:
        return translate(self.adviser.sheet.space, self.sheet.space, seen.settings)


def counsels_of(study: Study) -> tuple[Counsel, ...]:
    """Every adviser of a study, read against it."""
    if not study.advisers:
        return ()
    return tuple(_counsel(_Pair(adviser, study.sheet)) for adviser in study.advisers)


def able(study: Study) -> tuple[Counsel, ...]:
    """The advisers that have something to say."""
    return tuple(counsel for counsel in counsels_of(study) if not counsel.refusal)


def refusals(study: Study) -> tuple[str, ...]:
    """Why some advisers cannot advise, in words; none where all can."""
    return tuple(counsel.refusal for counsel in counsels_of(study) if counsel.refusal)


def advices_on(study: Study, part: str = "") -> tuple[Advice, ...]:
    """What the advisers hold of the overall score, or of the logarithm of one part of it."""
    if not part:
        return tuple(counsel.overall for counsel in able(study))
    return tuple(counsel.parts[part][1] for counsel in able(study) if part in counsel.parts)


class _Pair:
    """An adviser and a sheet, equal to others that say the same."""

    def __init__(self, adviser: Study, sheet: StudySheet) -> None:
        self.adviser, self.sheet = adviser, sheet
        self.canonical = canonical_json([study_to_json(adviser), sheet_to_tables(sheet)])

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Pair) and self.canonical == other.canonical

    def __hash__(self) -> int:
        return hash(self.canonical)


@lru_cache(maxsize=16)
def _counsel(pair: _Pair) -> Counsel:
    weighed = replace(pair.adviser.sheet, overall=pair.sheet.overall)
    return Counsel(replace(pair.adviser, sheet=weighed), pair.sheet)


def advised_start(ground: Ground, counsels: Sequence[Counsel], candidates: int, rng: np.random.Generator) -> Settings:
    """The arrangement that the advisers together hold best, each with as much of a say.

    Raises:
        NothingLeft: none may be proposed.
    """
    pool = spread(ground, candidates, rng)
    if not pool:
        raise nothing_left()
    encode = Encoder(ground.space)
    scales = [max(float(counsel.worth(encode(pool), 0.0).std()), 1e-9) for counsel in counsels]

    def worth(many: Sequence[Settings]) -> Array:
        rows = encode(many)
        each = [counsel.worth(rows, CAUTION) / scale for counsel, scale in zip(counsels, scales, strict=True)]
        return np.asarray(np.sum(each, axis=0))

    order = np.argsort(-worth(pool), kind="stable")
    return climb(ground, [pool[place] for place in order[:STARTS]], worth, STEPS)[0][0]
