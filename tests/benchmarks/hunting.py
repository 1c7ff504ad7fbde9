"""One hunt: a method on a problem from a seed, with what it would have kept after each trial."""

import time
from dataclasses import replace
from typing import Any

from optimiser.proposals.effort import handling_minutes
from optimiser.study import Study, Trial
from tests.benchmarks.methods import Method
from tests.benchmarks.problems import Problem


def hunt(problem: Problem, method: Method, seed: int, trials: int, advisers: tuple[Study, ...] = ()) -> dict[str, Any]:
    """The hunt's record.

    What would be kept after each trial: its noiseless value and regret; while trials that were chosen together are
    being made, what was kept before them. For each trial the seconds of processor time that choosing it took, and the
    minutes that the sheet says it takes a practitioner.
    """
    study = Study(method.prepare(problem.sheet), advisers=advisers)
    kept, seconds, minutes = list[float](), list[float](), list[float]()
    with method.around():
        while len(kept) < trials:
            asked = []
            for _ in range(min(method.at_once, trials - len(kept))):
                before = time.process_time()
                asked.append(dict(method.ask(study, seed)))
                seconds.append(round(time.process_time() - before, 4))
                study = study.with_trial(Trial(asked[-1], state="waiting"))
            for number, settings in enumerate(asked, start=len(kept)):
                minutes.append(_minutes(study, settings))
                study = study.with_trial(replace(problem.trial(settings, 1000 * seed + number), number=number + 1))
            kept += [kept[-1] if kept else problem.random_mean] * (len(asked) - 1)
            kept.append(problem.truth(method.keep(study)))
    solved = [value >= problem.target for value in kept]
    return {
        "problem": problem.name,
        "method": method.name,
        "seed": seed,
        "solved_at": solved.index(True) + 1 if any(solved) else None,
        "regret": [round(problem.regret(value), 5) for value in kept],
        "seconds": seconds,
        "minutes": minutes,
    }


def _minutes(study: Study, settings: dict[str, Any]) -> float:
    """Minutes of the trial itself and of what has to be set differently from the trial before."""
    made = study.in_state("measured")
    handling = handling_minutes(study.sheet.space, made[-1].settings if made else None, settings)
    return round(study.sheet.minutes_per_trial + handling, 3)
