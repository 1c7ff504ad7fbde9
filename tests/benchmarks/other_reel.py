"""What becomes of a take whose goal reference is of another proof reel: what the figures in DEVELOPERS.md rest on.

    python -m tests.benchmarks.other_reel

Prints the share of articulation kept, counted against a goal of another reel and against the take's own reference,
beside that against a goal of its own reel; and the overall score of trials whose goal part is missing, as the belief
predicts it and as it would be without that part, beside the score with it.
"""

import sys
from collections.abc import Iterator
from dataclasses import replace
from itertools import permutations
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.audio import Reel, build_reel
from optimiser.proposals.evidence import overall_evidence
from optimiser.rehearsal import LEARNING_RIFFS, RATE_HZ, RehearsalAmp
from optimiser.scoring import measure, share_kept
from optimiser.space import Settings
from optimiser.storage import open_store
from optimiser.study import Study, combine, fold
from optimiser.units import INTERVAL_SDS
from optimiser.workflow import rehearse
from optimiser.workflow.reel_files import built_in_riffs

REELS: Final = (LEARNING_RIFFS, (*LEARNING_RIFFS, "gallop"), (*LEARNING_RIFFS, "slide"), LEARNING_RIFFS[:3])
SET: Final = ((9.0, "open"), (11.0, "pushed"), (13.0, "pushed"), (15.0, "full"), (12.0, "full"), (16.5, "full"))
SEEDS: Final = (3, 4, 5)
TRIALS: Final = 16
FEWEST: Final = 8
"""Trials from which on the newest one is taken to lack its goal part."""

Sound = NDArray[np.float64]


def articulation_kept() -> tuple[list[float], list[float]]:
    """Log ratios of the share kept to that against the goal of the take's reel: another reel's goal, own reference."""
    amp, rate_hz = RehearsalAmp(), int(RATE_HZ)
    reels = [build_reel(built_in_riffs(order), order, "proof", rate_hz) for order in REELS]
    goals = [amp.goal_reference(reel.samples, seed=1) for reel in reels]
    alone = [
        measure(goal, goal, rate_hz, layout=reel.layout).articulation for goal, reel in zip(goals, reels, strict=True)
    ]
    others, own = [], []
    for one, other in permutations(range(len(reels)), 2):
        for kept, articulation, by_reference in _takes(amp, reels[one], goals[one]):
            others.append(float(np.log(share_kept(alone[other], articulation) / kept)))
            own.append(float(np.log(by_reference / kept)))
    return others, own


def _takes(amp: RehearsalAmp, reel: Reel, goal: Sound) -> Iterator[tuple[float, float, float]]:
    """Share kept against the goal, the capture's articulation, and the share kept against the reference."""
    lessons = list(built_in_riffs(LEARNING_RIFFS).items())
    for seed, (gain, stage) in enumerate(SET, start=10):
        settings: Settings = {"gain": gain, "stage": stage, "mic": "cap edge", "riffs": list(LEARNING_RIFFS)}
        made = amp.take(settings, lessons, reel.samples, seed=seed)
        pair = (made.reference, made.capture, int(RATE_HZ))
        told = measure(*pair, layout=reel.layout, goal=goal)
        yield told.articulation_kept, told.articulation, measure(*pair, layout=reel.layout).articulation_kept


def missing_goals(study: Study) -> Iterator[tuple[float, float, float]]:
    """For each trial from `FEWEST` on: error of what is predicted, its standard error, error without the part."""
    for number in range(FEWEST, TRIALS + 1):
        *before, last = [trial for trial in study.in_state("measured") if (trial.number or 0) <= number]
        gap = replace(last, goal=None, goal_se=None)
        lacking = Study(study.sheet, (*before, gap), goal_known=True)
        evidence, known = overall_evidence(lacking), study.overall(last)
        assert known is not None
        place = evidence.numbers.index(number)
        rest = combine([part for part in lacking.parts(gap) if part.desirability is not None])
        yield float(evidence.values[place]) - known[0], float(evidence.errors[place]), rest[0] - known[0]


def hunts() -> Iterator[Study]:
    """Rehearsed hunts."""
    for seed in SEEDS:
        with TemporaryDirectory() as folder:
            rehearse(Path(folder), TRIALS, seed, lambda _: None)
            with open_store(f"sqlite:///{folder}/rehearsal.db", create=False) as store:
                yield fold(store.events("rehearsal")).study


def main() -> None:
    """Both tables."""
    others, own = (float(np.exp(np.sqrt(np.mean(np.square(logs))))) for logs in articulation_kept())
    found = np.array([row for study in hunts() for row in missing_goals(study)])
    error, doubt, without = found.T
    inside = int(np.sum(np.abs(error) < INTERVAL_SDS * doubt))
    sys.stdout.write(
        f"articulation kept, factor off: {others:.3f} by a goal of another reel, {own:.2f} by the own reference\n"
        f"goal part missing, {len(found)} trials: {np.sqrt(np.mean(error**2)):.1f} points off as predicted, {inside} "
        f"inside the 90 % interval; {np.sqrt(np.mean(without**2)):.1f} points off without it ({without.mean():+.1f})\n"
    )


if __name__ == "__main__":
    main()
