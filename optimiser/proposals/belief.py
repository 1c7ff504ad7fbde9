"""What a study's trials make us believe of every arrangement."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

import numpy as np
from scipy.special import ndtr

from optimiser.proposals.advisers import advices_on
from optimiser.proposals.evidence import Evidence, factors_of, overall_evidence, reading_evidence
from optimiser.proposals.proposal import Prediction
from optimiser.proposals.rows import Encoder
from optimiser.proposals.trade import trend_of
from optimiser.space import Settings, SettingsSpace, encoding
from optimiser.study import ReadingBand, Study, canonical_json, seed_of, study_to_json
from optimiser.surrogate import (
    FLAT,
    USUAL_SPREAD,
    Array,
    Covariance,
    Effort,
    Fitted,
    MixedKernel,
    Posterior,
    Trend,
    advised,
    bounded,
    draw,
    fit,
    kernel_of,
    mixture,
    product,
)
from optimiser.units import SCORE_SCALE

SETTLED_TRIALS: Final = 160
"""Trials from which the most probable scales alone are used. With more a belief is settled, and less has to be looked
at (a choice for speed, no source)."""

LEARNT_FROM: Final = 80
"""Trials from which a settled belief learns its scales; every trial counts in what is predicted. In five made-up
studies of 260 to 400 trials (tests/benchmarks/long_study.py) 60 trials that were left out were predicted to 3.86 points
by scales from 80 trials and to 3.85 by scales from all (root mean square), with a higher mean log density."""

QUICK_STEPS: Final = 20
"""Most steps of the search for the most probable scales from then on (a choice for speed, no source)."""


@dataclass(frozen=True, eq=False)
class Belief:
    """Gaussian processes over the overall score and the reading; equal to itself alone, so that it can be a key.

    Attributes:
        study: the study.
        evidence: overall scores and where they were measured.
        overall: belief about the overall score.
        reading: belief about the reading; None without a band or with fewer than two readings.
    """

    study: Study
    evidence: Evidence
    overall: Posterior
    reading: Fitted | None

    @property
    def space(self) -> SettingsSpace:
        """What may be set."""
        return self.study.sheet.space

    @property
    def settled(self) -> bool:
        """Whether there are so many trials that less has to be looked at."""
        return len(self.evidence) > SETTLED_TRIALS

    @cached_property
    def seed(self) -> int:
        """From which random choices follow."""
        return seed_of(self.study)

    @cached_property
    def encode(self) -> Encoder:
        """From arrangements to rows."""
        return Encoder(self.space)

    def foreseen(self, rows: Array) -> tuple[Array, Array]:
        """What `overall.predict` gives, both (members, m); the last few are remembered."""
        return _foreseen(self, _Rows(rows))

    def mean_sd(self, many: Sequence[Settings]) -> tuple[Array, Array]:
        """Mean and standard deviation (m,) of the overall score, without the noise of one trial."""
        return mixture(*self.foreseen(self.encode(many)))

    @cached_property
    def scale(self) -> tuple[float, float] | None:
        """The ends of the overall score's scale; None where a score was given outright that lies beyond them."""
        low, high = SCORE_SCALE
        return SCORE_SCALE if all(low <= score <= high for score in self._outright) else None

    @cached_property
    def made_of_parts(self) -> bool:
        """Whether no score was given outright, so that the scale's ends are certain."""
        return not self._outright

    @property
    def _outright(self) -> list[float]:
        return [trial.overall for trial in self.study.in_state("measured") if trial.overall is not None]

    def told(self, many: Sequence[Settings]) -> tuple[Array, Array]:
        """Mean and standard deviation (m,) of the overall score as they are told: none lies beyond the scale's ends."""
        means, variances = self.overall.predict(self.encode(many))
        return mixture(means, variances) if self.scale is None else bounded(means, variances, *self.scale)

    def within(self, values: Array) -> Array:
        """Values of the overall score, those beyond the scale's ends put at its ends."""
        return values if self.scale is None else np.clip(values, *self.scale)

    def draws(self, many: Sequence[Settings], n: int, seed: int) -> Array:
        """Joint draws of the overall score, without the noise of one trial, shape (n, len(many))."""
        rows, rng = self.encode(many), np.random.default_rng(seed)
        members = self.overall.members
        drawn = []
        for turn, member in enumerate(members):
            share = len(range(turn, n, len(members)))
            if share:
                drawn.append(draw(*self.overall.joint(rows, member), rng.normal(size=(share, len(rows)))))
        return np.concatenate(drawn)

    def chance_in_band(self, rows: Array) -> Array | None:
        """Chance (m,) that the reading is accepted, None without readings."""
        band = self.study.sheet.reading
        if self.reading is None or band is None:
            return None
        means, variances = self.reading.predict(rows)
        sds = np.sqrt(variances + self.reading.noise() ** 2)
        return np.asarray(_accepted(means, sds, band).mean(axis=0))

    def predict(self, settings: Settings) -> Prediction:
        """What these settings would give."""
        mean, sd = self.told([settings])
        chance = self.chance_in_band(self.encode([settings]))
        return Prediction(
            float(mean[0]), float(sd[0]), self.overall.noise(), None if chance is None else float(chance[0])
        )


class _Rows:
    """Rows (m, d) that equal others when all of their numbers do."""

    def __init__(self, rows: Array) -> None:
        self.rows = rows
        self._key = (rows.shape, rows.tobytes())

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Rows) and self._key == other._key

    def __hash__(self) -> int:
        return hash(self._key)


@lru_cache(maxsize=8)
def _foreseen(belief: Belief, known: _Rows) -> tuple[Array, Array]:
    means, variances = belief.overall.predict(known.rows)
    means.setflags(write=False)
    variances.setflags(write=False)
    return means, variances


def believe(study: Study) -> Belief | None:
    """The belief that follows from a study's trials; None while no overall score is known.

    The last few are remembered, so that a proposal, a prediction and an outlook of one study share their work.
    """
    return _believe(_Known(study))


class _Known:
    """A study that equals another when both have the same canonical JSON."""

    def __init__(self, study: Study) -> None:
        self.study = study
        self.canonical = canonical_json(study_to_json(study))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Known) and self.canonical == other.canonical

    def __hash__(self) -> int:
        return hash(self.canonical)


@lru_cache(maxsize=4)
def _believe(known: _Known) -> Belief | None:
    study = known.study
    evidence = overall_evidence(study)
    if len(evidence) == 0:
        return None
    kernel = kernel_of(encoding(study.sheet.space))
    effort = _effort(study.sheet.policy.belief_draws, len(evidence))
    overall = _overall(study, evidence, kernel, effort)
    readings = reading_evidence(study)
    reading = None
    if study.sheet.reading is not None and len(readings) >= 2:
        few = _effort(2, len(readings)) if len(readings) > SETTLED_TRIALS else Effort(members=2)
        reading = fit(kernel, readings.rows, readings.values, readings.errors, days=readings.days, effort=few)
    return Belief(study, evidence, overall, reading)


def _overall(study: Study, evidence: Evidence, kernel: MixedKernel, effort: Effort) -> Posterior:
    """By its parts where all of them are known, else as one.

    Two scores that happen to be alike tell little of how far others lie apart: the spread of n scores is taken to be at
    least an n-th of what one alone is given.
    """
    top, factors = factors_of(study)
    if not factors:
        least = USUAL_SPREAD * abs(float(evidence.values.mean())) / len(evidence)
        return _fitted(*advised(kernel, FLAT, advices_on(study)), evidence, effort, least)
    fitted = [
        _fitted(
            *advised(kernel, trend_of(study.sheet, factor.name), advices_on(study, factor.name)), factor.logs, effort
        )
        for factor in factors
    ]
    return product(fitted, [factor.power for factor in factors], top)


def _fitted(kernel: Covariance, trend: Trend, seen: Evidence, effort: Effort, least_scale: float = 0.0) -> Fitted:
    return fit(
        kernel,
        seen.rows,
        seen.values,
        seen.errors,
        within=seen.within,
        days=seen.days,
        trend=trend,
        least_scale=least_scale,
        effort=effort,
    )


def _effort(draws: int, trials: int) -> Effort:
    """The more trials, the less the scales are in doubt: fewer sets of them, found in fewer steps."""
    members = max(1, min(draws, SETTLED_TRIALS // trials))
    steps = QUICK_STEPS if trials > SETTLED_TRIALS else Effort().steps
    return Effort(members=members, steps=steps, learning=LEARNT_FROM if trials > SETTLED_TRIALS else None)


def _accepted(means: Array, sds: Array, band: ReadingBand) -> Array:
    sds = np.maximum(sds, 1e-9)
    enough = 1.0 - ndtr((band.wanted[0] - means) / sds)
    too_much = 1.0 - ndtr((band.wanted[1] - means) / sds) if band.upper else 0.0
    return np.asarray(enough - too_much)
