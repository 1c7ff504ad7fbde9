"""Where a study stands: everything that the figures and the report show, worked out once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final, cast

import numpy as np
from numpy.typing import NDArray

from optimiser import units
from optimiser.proposals import Outlook, Recommendation, believe, outlook, predict, recommend
from optimiser.review.shares import Believed, Share, shares_of
from optimiser.space import Knob, Settings, SettingsSpace, Value
from optimiser.study import Study, StudyState, Trial, trials_in_words

LOOKS_BACK: Final = 3
"""Earlier states of a study whose outlook is worked out anew; each takes a belief of its own."""

MANY_TRIALS: Final = 60
"""Trials beyond which only the present outlook is worked out, to stay within seconds."""


def plus_minus(mean: float, sd: float) -> str:
    """A score with half of its 90 % interval, as in `74.2 ± 1.1`."""
    return units.plus_minus(mean, sd).replace("+-", "± ")


def ends_of(means: NDArray[np.float64], sds: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lower and upper ends of the 90 % intervals of scores, shape as given; none passes an end of the scale."""
    low, high = means - units.INTERVAL_SDS * sds, means + units.INTERVAL_SDS * sds
    least, most = units.SCORE_SCALE
    inside = (means >= least) & (means <= most)
    return np.where(inside, np.maximum(low, least), low), np.where(inside, np.minimum(high, most), high)


def alike(levels: Mapping[int, float], number: int) -> tuple[int, ...]:
    """Numbers of the other trials whose score is told with the same figure, so that nothing tells them apart."""
    told = f"{levels[number]:.1f}"
    return tuple(sorted(other for other, level in levels.items() if other != number and f"{level:.1f}" == told))


def alike_in_words(numbers: Sequence[int]) -> str:
    """That other trials read the same, as a clause that follows another; empty without any."""
    return f"; {trials_in_words(numbers)} read{'' if len(numbers) > 1 else 's'} the same" if numbers else ""


def number_of(trial: Trial) -> int:
    """A trial's number; every trial of a study has one, counted from 1."""
    return trial.number or 0


@dataclass(frozen=True)
class OutlookThen:
    """The outlook as it stood after a trial.

    Attributes:
        after: number of the trial.
        gain_left: points that further trials could still gain.
        chance_near_best: chance that the recommended settings are as good as the best, 0 to 1.
    """

    after: int
    gain_left: float
    chance_near_best: float


@dataclass(frozen=True)
class Standing:
    """Where a study stands.

    Attributes:
        state: sheet, trials, proposals and details.
        belief: what is believed of every arrangement; None while no overall score is known.
        recommendation: what to keep now; None while nothing is believed.
        outlook: what further trials could gain; None while nothing is believed.
        noise: standard deviation between repeats, in points; None while nothing is believed.
        outlooks: the outlook after this trial and some earlier ones.
        shares: what mattered.
    """

    state: StudyState
    belief: Believed | None = None
    recommendation: Recommendation | None = None
    outlook: Outlook | None = None
    noise: float | None = None
    outlooks: tuple[OutlookThen, ...] = ()
    shares: tuple[Share, ...] = ()

    @property
    def study(self) -> Study:
        """Sheet and trials."""
        return self.state.study

    @property
    def space(self) -> SettingsSpace:
        """What may be set."""
        return self.study.sheet.space

    @cached_property
    def scored(self) -> tuple[Trial, ...]:
        """The measured trials whose overall score is known."""
        return tuple(trial for trial in self.study.trials if self.study.overall(trial) is not None)

    @cached_property
    def believed(self) -> Mapping[int, tuple[float, float]]:
        """For every trial with a number, mean and standard deviation of what is believed of its settings."""
        if self.belief is None or not self.study.trials:
            return {}
        means, sds = self.belief.told([dict(trial.settings) for trial in self.study.trials])
        return {
            number_of(trial): (float(mean), float(sd))
            for trial, mean, sd in zip(self.study.trials, means, sds, strict=True)
        }

    @cached_property
    def best(self) -> Trial | None:
        """The scored trial whose settings are believed best; of several with those settings the highest."""
        first = max(self.scored, key=lambda trial: self.believed[number_of(trial)][0], default=None)
        key = self.space.key
        again = [trial for trial in self.scored if first and key(trial.settings) == key(first.settings)]
        return max(again, key=lambda trial: self.levels[number_of(trial)], default=None)

    def levelled(self, trial: Trial) -> float | None:
        """A trial's overall score with what its day reads high taken off; None without one."""
        scored = self.study.overall(trial)
        return None if scored is None else scored[0] - self._shifts.get(trial.day or "", 0.0)

    @cached_property
    def levels(self) -> Mapping[int, float]:
        """Every scored trial's overall score with what its day reads high taken off, by number."""
        return {number_of(trial): self.levelled(trial) or 0.0 for trial in self.scored}

    @cached_property
    def highest(self) -> Trial | None:
        """The scored trial with the highest score once what each day reads high is taken off."""
        return max(self.scored, key=lambda trial: self.levels[number_of(trial)], default=None)

    @cached_property
    def _shifts(self) -> Mapping[str, float]:
        return {day.day: day.shift for day in self.outlook.days} if self.outlook is not None else {}

    @cached_property
    def spread(self) -> float:
        """Standard deviation of all scores so far, in points."""
        return float(np.std([self.score(trial)[0] for trial in self.scored])) if self.scored else 0.0

    def score(self, trial: Trial) -> tuple[float, float]:
        """A scored trial's overall and its standard deviation, repeatability included."""
        overall, se = self.study.overall(trial) or (np.nan, np.nan)
        return overall, float(np.hypot(se, self.noise or 0.0))

    def kind(self, trial: Trial) -> str:
        """What the trial was made for: a proposal's kind, such as `search`, or `own` when it was not proposed."""
        proposal = self.state.proposals.get(number_of(trial))
        return str(proposal.get("kind", "search")) if proposal is not None else "own"

    @cached_property
    def base(self) -> Settings:
        """The arrangement through which slices are cut: the recommended one."""
        if self.recommendation is None:
            return self.space.complete({}, self.middles)
        return dict(self.recommendation.settings)

    @cached_property
    def middles(self) -> Settings:
        """A middling value for every setting, also for those that exist only under a condition."""
        rng = np.random.default_rng(0)
        values: dict[str, Value] = {}
        for setting in self.space.settings:
            levels = setting.levels()
            if isinstance(setting, Knob):
                values[setting.name] = setting.nearest((setting.low + setting.high) / 2.0)
            else:
                values[setting.name] = levels[len(levels) // 2] if levels is not None else setting.sample(rng)
        return values

    def varied(self, **changes: Value) -> Settings:
        """The base with some settings changed, made whole where conditions ask for it."""
        return self.space.complete({**self.base, **changes}, self.middles)

    def predicted(self, many: Sequence[Settings]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Means and standard deviations, shape (len(many),); not a number where the sheet forbids the arrangement."""
        allowed = np.array([self.space.allows(settings) for settings in many], dtype=bool)
        means, sds = np.full(len(many), np.nan), np.full(len(many), np.nan)
        if self.belief is not None and allowed.any():
            kept = [settings for settings, fine in zip(many, allowed, strict=True) if fine]
            means[allowed], sds[allowed] = self.belief.told(kept)
        return means, sds


def standing_of(state: StudyState) -> Standing:
    """Work out where a study stands."""
    study = state.study
    belief = believe(study)
    if belief is None:
        return Standing(state, shares=shares_of(study, None))
    recommendation = recommend(study)
    now = outlook(study)
    return Standing(
        state,
        belief=belief,
        recommendation=recommendation,
        outlook=now,
        noise=predict(study, recommendation.settings).noise,
        outlooks=_outlooks(state, now),
        shares=shares_of(study, belief),
    )


def _outlooks(state: StudyState, now: Outlook) -> tuple[OutlookThen, ...]:
    """The outlook after trials: as it was told when the next one was proposed, else worked out anew for a few."""
    measured = [number_of(trial) for trial in state.study.in_state("measured")]
    found: dict[int, OutlookThen] = {}
    for number, proposal in state.proposals.items():
        earlier = [other for other in measured if other < number]
        told = cast(Mapping[str, Any] | None, proposal.get("outlook"))
        if told and earlier and told.get("gain_left") is not None:
            found[earlier[-1]] = OutlookThen(earlier[-1], float(told["gain_left"]), float(told["chance_near_best"]))
    missing = [number for number in measured[1:-1] if number not in found]
    for number in _evenly(missing, LOOKS_BACK if len(measured) <= MANY_TRIALS else 0):
        then = outlook(_up_to(state.study, number))
        found[number] = OutlookThen(number, then.gain_left, then.chance_near_best)
    if measured:
        found[measured[-1]] = OutlookThen(measured[-1], now.gain_left, now.chance_near_best)
    return tuple(found[number] for number in sorted(found))


def _up_to(study: Study, number: int) -> Study:
    return replace(study, trials=tuple(trial for trial in study.trials if (number_of(trial)) <= number))


def _evenly(numbers: Sequence[int], count: int) -> list[int]:
    if len(numbers) <= count:
        return list(numbers)
    places = np.linspace(0, len(numbers) - 1, count).round().astype(int)
    return [numbers[place] for place in np.unique(places)]
