"""Whether the outlook keeps its promise: what it says beside what is really left, on spaces whose answer is known.

    python -m tests.benchmarks.outlook_calibration run --hunts 300
    python -m tests.benchmarks.outlook_calibration report
    python -m tests.benchmarks.outlook_calibration fit

`run` hunts on job spaces and spaces with parts in turn, until three outlooks have said that they are sure or no trials
are left, and adds a line for each outlook to outlooks.csv; broken off, it goes on where it stood. `report` prints how
often they were right by how sure they were, and how often where a hunt first heard that it may stop. `fit` reads
outlooks-unsobered.csv, which another draw of spaces gave before the chance was sobered, and prints the factor on the
log odds that tells those outlooks best, first as they are, then with every hunt counted alike.
"""

import argparse
import csv
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import logit

from optimiser.proposals import outlook, propose, recommend
from optimiser.proposals.stopping import SURE
from optimiser.study import Study
from tests.benchmarks.job_family import OUTLOOK_SEEDS, JobSpace
from tests.benchmarks.parts_family import PartsSpace

FOLDER: Final = Path(__file__).parents[2] / "studies" / "proposals-benchmark"
TRIALS: Final = 40
FROM_TRIAL: Final = 8
HEARD: Final = 3
"""Outlooks that say so, after which a hunt ends."""

HALF_A_DRAW: Final = 1.0 / 1024
"""Half of one of the 512 draws behind a chance, so that its odds are finite."""

EDGES: Final = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0)

Row = dict[str, float]


def outlooks(seed: int) -> Iterator[Row]:
    """One hunt's outlooks: what was said, and how far the kept settings really were from the optimum."""
    problem = (PartsSpace(seed) if seed % 2 else JobSpace(seed)).problem()
    study, heard = Study(problem.sheet), 0
    for number in range(1, TRIALS + 1):
        settings = propose(study, seed=number)[0].settings
        study = study.with_trial(problem.trial(settings, 1000 * seed + number))
        if number < FROM_TRIAL:
            continue
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
            "covered": said.covered,
            "checked": said.checked,
        }
        heard += said.chance_near_best >= SURE
        if heard == HEARD:
            return


def show(rows: Sequence[Row]) -> None:
    """Print how often the outlook was right by how sure it was, and how often predictions covered the truth."""
    said, left, eps = (np.array([row[name] for row in rows]) for name in ("chance_near_best", "really_left", "eps"))
    for low, high in pairwise(EDGES):
        inside = (said >= low) & ((said < high) | (high == 1.0))
        if inside.any():
            right = float((left <= eps)[inside].mean())
            print(f"said {low:.0%} to {high:.0%}: {inside.sum()} times, {said[inside].mean():.0%}; right {right:.0%}")  # noqa: T201
    first = [hunt for hunt in _first_sure(rows) if hunt is not None]
    right = sum(row["really_left"] <= row["eps"] for row in first)
    print(f"hunts: {len(_first_sure(rows))}; of {len(first)} that first heard {SURE:.0%} or more, right in {right}")  # noqa: T201
    off = [abs(row["expected"] - row["really_worth"]) / row["expected_se"] for row in rows]
    print(f"90 % intervals of the kept settings' score cover it in {np.mean(np.array(off) <= 1.645):.0%}")  # noqa: T201
    covered, checked = (sum(row[name] for row in rows) for name in ("covered", "checked"))
    print(f"90 % intervals of trials left out cover them in {covered / checked:.0%}")  # noqa: T201


def _first_sure(rows: Sequence[Row]) -> list[Row | None]:
    """For each hunt the first outlook that said it is sure, None where none did."""
    hunts = dict.fromkeys(row["seed"] for row in rows)
    return [
        next((row for row in rows if row["seed"] == seed and row["chance_near_best"] >= SURE), None) for seed in hunts
    ]


def run(file: Path, hunts: int, shard: str) -> None:
    """Add the hunts that are not yet in the file."""
    part, parts = (int(number) for number in shard.split("/"))
    for seed in list(OUTLOOK_SEEDS)[:hunts]:
        if seed % parts != part % parts or any(row["seed"] == seed for row in read(file)):
            continue
        rows, fresh = list(outlooks(seed)), not file.exists()
        with file.open("a", newline="", encoding="utf-8") as lines:
            writer = csv.DictWriter(lines, fieldnames=list(rows[0]))
            if fresh:
                writer.writeheader()
            writer.writerows({name: round(value, 5) for name, value in row.items()} for row in rows)


def fitted(rows: Sequence[Row], *, by_hunt: bool) -> float:
    """The factor on the log odds of the chances said that makes what really was most probable [Platt1999]."""
    said = np.clip([row["chance_near_best"] for row in rows], HALF_A_DRAW, 1.0 - HALF_A_DRAW)
    right = np.array([row["really_left"] <= row["eps"] for row in rows])
    hunts = Counter(row["seed"] for row in rows)
    weights = np.array([1.0 / hunts[row["seed"]] if by_hunt else 1.0 for row in rows])

    def surprise(factor: float) -> float:
        odds = factor * logit(said)
        return float(np.sum(weights * (np.logaddexp(0.0, odds) - right * odds)))

    return float(minimize_scalar(surprise, bounds=(0.0, 2.0), method="bounded").x)


def read(file: Path) -> list[Row]:
    """The outlooks told so far."""
    if not file.exists():
        return []
    with file.open(newline="", encoding="utf-8") as lines:
        return [{name: float(value) for name, value in row.items()} for row in csv.DictReader(lines)]


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("command", choices=["run", "report", "fit"])
    parser.add_argument("--hunts", type=int, default=len(OUTLOOK_SEEDS))
    parser.add_argument("--shard", default="0/1", help="part/parts")
    parser.add_argument("--folder", type=Path, default=FOLDER)
    options = parser.parse_args()
    file = options.folder / "outlooks.csv"
    if options.command == "run":
        run(file, options.hunts, options.shard)
    elif options.command == "report":
        show(read(file))
    else:
        rows = read(options.folder / "outlooks-unsobered.csv")
        print(*(f"{fitted(rows, by_hunt=by_hunt):.2f}" for by_hunt in (False, True)))  # noqa: T201


if __name__ == "__main__":
    main()
