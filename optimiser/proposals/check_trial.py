"""Whether a new day begins with a trial that was made before, so that what the day reads high or low by is known."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.proposals.belief import Belief
from optimiser.space import Settings
from optimiser.surrogate import Array, condition, draw

KNOWN_TRIALS: Final = 4
"""Measured trials from which a check trial has something to be compared with (a choice, no source)."""

MOST_A_DAY: Final = 12
"""Trials of one day that are looked ahead to at most (a choice, no source)."""

DRAWS: Final = 256
"""Courses of a day that are drawn under each member of the belief (a choice, no source)."""

WORTH: Final = 0.9
"""A day that begins with a check may promise so much of what one without does: the check ties days together for all
days to come, and tells whether the best so far was luck (a choice, no source)."""


def _trials_a_day(belief: Belief) -> int:
    """Trials that a day usually holds: the median over the days so far."""
    return max(2, min(MOST_A_DAY, int(np.median(np.unique(belief.evidence.days, return_counts=True)[1]))))


def check_pays(belief: Belief, best: Settings, promising: Sequence[Settings], rivals: Sequence[Settings]) -> bool:
    """Whether the best believed score after the day is expected to rise nearly as far with a check trial as without.

    A day of trials at the most promising arrangements is compared with one that begins with the best one tried and
    leaves the last of them out: expected maximum of the posterior mean over all of them, as in the knowledge gradient
    [Frazier2009], where all trials of the day share one unknown shift.

    Args:
        belief: what is known.
        best: the arrangement to be tried again.
        promising: arrangements to try, the most promising first.
        rivals: further arrangements that may turn out best.
    """
    count = min(_trials_a_day(belief), len(promising))
    known = [best, *promising[:count], *rivals]
    rows = belief.encode(known)
    with_check, without = np.arange(count), np.arange(1, count + 1)
    shift = belief.overall.day_variance()
    rng = np.random.default_rng(0)
    gains = {True: 0.0, False: 0.0}
    for member in belief.overall.members:
        mean, covariance = belief.overall.joint(rows, member)
        noise = member.noise_variance * belief.overall.scale**2
        normals = rng.normal(size=(DRAWS, len(rows)))
        for checked, made in ((True, with_check), (False, without)):
            learnt = _learnt(covariance, made, noise, shift)
            gains[checked] += float(draw(mean, learnt, normals).max(axis=1).mean() - mean.max())
    return gains[True] >= WORTH * gains[False]


def _learnt(covariance: Array, made: NDArray[np.intp], noise: float, shift: float) -> Array:
    """Covariance (m, m) of the posterior means after trials at some of the rows, all of them on one new day."""
    seen = covariance[np.ix_(made, made)] + shift
    return condition(seen, np.full(len(made), noise), np.zeros(len(made))).explained(covariance[made])
