"""Whether the outlook keeps its promise: what it says beside what is really left, on spaces whose answer is known.

    python -m tests.benchmarks.outlook_calibration --hunts 16

Writes outlooks.csv, one line for each outlook, and prints how often it was right by how sure it was.
"""

import argparse
import csv
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np

from optimiser.proposals import outlook, propose, recommend
from optimiser.study import Study
from tests.benchmarks.job_family import TUNING_SEEDS, JobSpace

FOLDER: Final = Path(__file__).parents[2] / "studies" / "proposals-benchmark"
TRIALS: Final = 24
FROM_TRIAL: Final = 10
EDGES: Final = (0.0, 0.4, 0.6, 0.8, 0.9, 1.0)

Row = dict[str, float]


def outlooks(seed: int) -> Iterator[Row]:
    """One hunt's outlooks: what was said, and how far the kept settings really were from the optimum."""
    problem = JobSpace(seed).problem()
    study = Study(problem.sheet)
    for number in range(1, TRIALS + 1):
        settings = propose(study, seed=number)[0].settings
        study = study.with_trial(problem.trial(settings, 1000 * seed + number))
        if number >= FROM_TRIAL:
            said, kept = outlook(study), recommend(study)
            value = problem.truth(kept.settings)
            yield {
                "seed": seed,
                "trials": number,
                "chance_near_best": said.chance_near_best,
                "eps": said.eps,
                "gain_left": said.gain_left,
                "really_left": problem.optimum - value,
                "expected": kept.expected,
                "expected_se": kept.expected_se,
                "really_worth": value,
            }


def show(rows: list[Row]) -> None:
    """Print how often the outlook was right by how sure it was, and how often predictions covered the truth."""
    said, left, eps = (np.array([row[name] for row in rows]) for name in ("chance_near_best", "really_left", "eps"))
    for low, high in pairwise(EDGES):
        inside = (said >= low) & ((said < high) | (high == 1.0))
        if inside.any():
            right = float((left <= eps)[inside].mean())
            print(f"said {low:.0%} to {high:.0%}: {inside.sum()} times, {said[inside].mean():.0%}; right {right:.0%}")  # noqa: T201
    off = [abs(row["expected"] - row["really_worth"]) / row["expected_se"] for row in rows]
    print(f"90 % intervals of the kept settings' score cover it in {np.mean(np.array(off) <= 1.645):.0%}")  # noqa: T201


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--hunts", type=int, default=len(TUNING_SEEDS))
    parser.add_argument("--folder", type=Path, default=FOLDER)
    options = parser.parse_args()
    rows = [row for seed in list(TUNING_SEEDS)[: options.hunts] for row in outlooks(seed)]
    with (options.folder / "outlooks.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    show(rows)


if __name__ == "__main__":
    main()
