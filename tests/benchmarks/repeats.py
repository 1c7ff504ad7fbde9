"""Does the spread of a few repeats tell the spread of many, and what has the error within a take to do with it?

    python -m tests.benchmarks.repeats

Takes the rehearsal amp's favourite settings 200 times on one day, by hands that are off each time, writes a line for
each to `repeats.csv` in the study's folder (a run that was broken off goes on where it stood), and prints what follows.
"""

import csv
import sys
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2, kstest

from optimiser.audio import build_reel
from optimiser.rehearsal import FAVOURITE_SETTINGS, LEARNING_RIFFS, RATE_HZ, RehearsalAmp, play_riff
from optimiser.scoring import MEASURE_VERSION, Measurement, measure

FOLDER: Final = Path(__file__).parents[2] / "studies" / "repeatability"
REPEATS: Final = 200
GROUP: Final = 5
COLUMNS: Final = ("seed", "match", "match_se", "goal", "goal_se", "measure_version")


def rows(path: Path) -> list[dict[str, str]]:
    """Every repeat so far, by the present measure."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as lines:
        return [row for row in csv.DictReader(lines) if row["measure_version"] == MEASURE_VERSION]


def take(path: Path) -> None:
    """Take what is missing."""
    amp, rate_hz = RehearsalAmp(), int(RATE_HZ)
    learning = [(name, play_riff(name)) for name in LEARNING_RIFFS]
    proof = build_reel(dict(learning), LEARNING_RIFFS, "proof", rate_hz)
    goal = amp.goal_reference(proof.samples, seed=0, exact=True)
    settings = {**FAVOURITE_SETTINGS, "riffs": list(LEARNING_RIFFS)}
    known = {int(row["seed"]) for row in rows(path)}
    if not known:
        path.write_text(",".join(COLUMNS) + "\n", encoding="utf-8")
    for seed in sorted(set(range(1, REPEATS + 1)) - known):
        took = amp.take(settings, learning, proof.samples, seed=seed, day=0)
        told = measure(took.reference, took.capture, rate_hz, layout=proof.layout, goal=goal)
        with path.open("a", encoding="utf-8", newline="") as lines:
            csv.writer(lines).writerow([seed, *_figures(told), MEASURE_VERSION])


def _figures(told: Measurement) -> list[str]:
    return [f"{value:.4f}" for value in (told.match, told.match_se, told.goal, told.goal_se) if value is not None]


def report(name: str, scores: NDArray[np.float64], within: NDArray[np.float64]) -> dict[str, float]:
    """The spread of all, and how the estimates from groups of five lie round it.

    Of normal repeats, 4 s^2 / sigma^2 follows a chi-square distribution with 4 degrees of freedom.
    """
    sigma = float(scores.std(ddof=1))
    spread = scores[: scores.size // GROUP * GROUP].reshape(-1, GROUP).std(axis=1, ddof=1)
    ratio = (GROUP - 1) * spread**2 / sigma**2
    low, high = (np.sqrt((GROUP - 1) / chi2.ppf(share, GROUP - 1)) for share in (0.975, 0.025))
    held = (spread * low <= sigma) & (sigma <= spread * high)
    told = {
        "mean": float(scores.mean()),
        "spread of all": sigma,
        "root mean square of the groups' spreads": float(np.sqrt(np.mean(spread**2))),
        "share of 95 % intervals that hold the spread": float(held.mean()),
        "chance of such ratios if normal": float(kstest(ratio, chi2(GROUP - 1).cdf).pvalue),
        "mean error within a take": float(within.mean()),
    }
    sys.stdout.write(f"{name}\n" + "".join(f"  {words}: {value:.3f}\n" for words, value in told.items()))
    return told


def main() -> None:
    """Take, then tell."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    path = FOLDER / "repeats.csv"
    take(path)
    found = rows(path)
    for name in ("match", "goal"):
        report(name, *(np.array([float(row[key]) for row in found]) for key in (name, f"{name}_se")))


if __name__ == "__main__":
    main()
