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
from scipy.stats import chi2, kurtosis, skew

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

    Whatever the repeats' distribution, s^2 of n of them has the mean sigma^2 and the variance
    sigma^4 (2 / (n - 1) + excess kurtosis / n) [Cramer 1946, section 27.4]. Of normal ones, (n - 1) s^2 / sigma^2 is
    chi-square, from which come intervals.
    """
    variance = float(scores.var(ddof=1))
    groups = scores[: scores.size // GROUP * GROUP].reshape(-1, GROUP)
    ratio = groups.var(axis=1, ddof=1) / variance
    expected_sd = float(np.sqrt(2 / (GROUP - 1) + kurtosis(scores) / GROUP))
    low, high = np.asarray(chi2.ppf(np.array([0.025, 0.975]), GROUP - 1)) / (GROUP - 1)
    told = {
        "repeats": float(scores.size),
        "mean": float(scores.mean()),
        "spread": float(np.sqrt(variance)),
        "skewness": float(skew(scores)),
        "excess kurtosis": float(kurtosis(scores)),
        "mean of s^2 / sigma^2 over groups of five, expected 1": float(ratio.mean()),
        "its standard error by theory": expected_sd / float(np.sqrt(ratio.size)),
        "standard deviation of s^2 / sigma^2": float(ratio.std(ddof=1)),
        "the same by theory": expected_sd,
        "share of normal 95 % intervals that hold the spread": float(np.mean((ratio >= low) & (ratio <= high))),
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
