"""What to keep now: the settings that are believed best, not those with the luckiest number."""

from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np

from optimiser.proposals.belief import Belief
from optimiser.proposals.candidates import climb, spread
from optimiser.proposals.ground import Ground
from optimiser.proposals.proposal import Recommendation
from optimiser.space import Settings
from optimiser.study import seed_of_settings
from optimiser.surrogate import Array, mixture

CAUTION: Final = 0.5
"""Standard deviations taken off a prediction before settings are compared, so that what was tried wins over what is
only hoped for (chosen on the tuning draw of studies/proposals-benchmark)."""

UNLIKELY_BAND: Final = 0.5
"""Settings whose reading is accepted with less than this chance are kept only when there are no others (no source)."""

STARTS: Final = 6
"""Arrangements from which better ones are looked for (a choice, no source)."""

SETTLED_STARTS: Final = 3
"""So many once the belief is settled: in five made-up studies of 200 to 300 trials (tests/benchmarks/long_study.py)
three led to the same place as six, and two did not in two of them."""

STEPS: Final = 12
"""Steps of one climb (a choice, no source)."""


@lru_cache(maxsize=4)
def recommendation(belief: Belief) -> Recommendation:
    """The settings whose overall score is highest by belief, within the sheet's rules; the last few are remembered."""
    ground = Ground(belief.space, {})
    tried = [settings for settings in belief.evidence.settings if ground.permits(settings)]

    def worth(many: Sequence[Settings]) -> Array:
        return _worth(belief, many)

    pool = [
        *tried,
        *spread(ground, belief.study.sheet.policy.candidates, np.random.default_rng(seed_of_settings(belief.study))),
    ]
    order = np.argsort(-worth(pool), kind="stable")
    starts = SETTLED_STARTS if belief.settled else STARTS
    settings = climb(ground, [pool[place] for place in order[:starts]], worth, STEPS)[0][0]
    mean, sd = belief.told([settings])
    return Recommendation(belief.space.sorted(settings), float(mean[0]), float(sd[0]), _last_trial(belief, settings))


def _worth(belief: Belief, many: Sequence[Settings]) -> Array:
    rows = belief.encode(many)
    mean, sd = mixture(*belief.overall.predict(rows))
    worth = mean - CAUTION * sd
    chance = belief.chance_in_band(rows)
    if chance is None:
        return worth
    return worth - 10.0 * belief.overall.scale * np.maximum(UNLIKELY_BAND - chance, 0.0)


def _last_trial(belief: Belief, settings: Settings) -> int | None:
    key = belief.space.key(settings)
    same = [trial.number or 0 for trial in belief.study.in_state("measured") if belief.space.key(trial.settings) == key]
    return max(same, default=None)
