"""One hunt: a method on a problem from a seed, with what it would have kept after each trial."""

import time
from typing import Any

from optimiser.study import Study
from tests.benchmarks.methods import Method
from tests.benchmarks.problems import Problem


def hunt(problem: Problem, method: Method, seed: int, trials: int) -> dict[str, Any]:
    """The hunt's record: noiseless value and regret of what would be kept after each trial, seconds for each ask."""
    study = Study(problem.sheet)
    kept, seconds = [], []
    for number in range(trials):
        before = time.process_time()
        settings = method.ask(study, seed)
        seconds.append(round(time.process_time() - before, 4))
        study = study.with_trial(problem.trial(settings, 1000 * seed + number))
        kept.append(problem.truth(method.keep(study)))
    solved = [value >= problem.target for value in kept]
    return {
        "problem": problem.name,
        "method": method.name,
        "seed": seed,
        "solved_at": solved.index(True) + 1 if any(solved) else None,
        "regret": [round(problem.regret(value), 5) for value in kept],
        "seconds": seconds,
    }
