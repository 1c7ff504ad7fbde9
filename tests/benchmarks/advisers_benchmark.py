"""What an earlier study is worth to a new one: hunts with and without an adviser that agrees, misleads or is unrelated.

    python -m tests.benchmarks.advisers_benchmark run
    python -m tests.benchmarks.advisers_benchmark outlook
    python -m tests.benchmarks.advisers_benchmark report

`run` first hunts where the advisers come from (past.jsonl), then adds one line for each hunt to hunts.jsonl, and goes
on where it stopped. `outlook` hunts on other spaces and adds to outlooks.jsonl what the outlook said after each trial
and what was true. `report` prints the tables and writes the sheet of the first job space.
"""

import argparse
import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import chain, pairwise
from pathlib import Path
from typing import Any, Final

import numpy as np

from optimiser.proposals import outlook, recommend
from optimiser.study import Study, study_from_json, study_to_json, write_sheet
from tests.benchmarks.hunting import hunt
from tests.benchmarks.job_family import JobSpace
from tests.benchmarks.methods import METHODS, Method, ask_ours
from tests.benchmarks.parts_family import PartsSpace
from tests.benchmarks.problems import Problem
from tests.benchmarks.ranked_ensemble import ranked
from tests.benchmarks.sister_family import ELSEWHERE, SisterJob, SisterParts

FOLDER: Final = Path(__file__).parents[2] / "studies" / "advisers"
TRIALS: Final = 24
PAST_TRIALS: Final = 24
SEEDS: Final = range(5020, 5032)
OUTLOOK_SEEDS: Final = range(1120, 1128)
SPANS: Final = ((1, 5), (6, 12), (13, TRIALS))
EDGES: Final = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0)
ALONE: Final = "alone"
KINS: Final = ("agreeing", "partly", "unrelated", "misleading")
OURS: Final = METHODS[0]
WAYS: Final = {"shipped": OURS, "ranked": replace(OURS, name="ranked", around=ranked)}
"""What becomes of the advisers."""


def past_problem(family: str, kin: str, seed: int) -> Problem:
    """Where an adviser comes from."""
    if kin == "unrelated":
        return present_problem(family, seed + ELSEWHERE)
    return SisterJob(seed, kin=kin).problem() if family == "job4" else SisterParts(seed, kin=kin).problem()


def present_problem(family: str, seed: int) -> Problem:
    """What is hunted on."""
    return JobSpace(seed).problem() if family == "job4" else PartsSpace(seed).problem()


def past(folder: Path, family: str, kin: str, seed: int) -> Study:
    """The adviser: a hunt of ours that was made before, or is made now."""
    file = folder / "past.jsonl"
    for record in read(file):
        if (record["family"], record["kin"], record["seed"]) == (family, kin, seed):
            return study_from_json(record["study"])
    problem = past_problem(family, kin, seed)
    study = Study(problem.sheet)
    for number in range(PAST_TRIALS):
        study = study.with_trial(problem.trial(dict(ask_ours(study, seed + 7)), 1000 * (seed + 7) + number))
    record = {"family": family, "kin": kin, "seed": seed, "study": study_to_json(study)}
    with file.open("a", encoding="utf-8") as lines:
        lines.write(json.dumps(record) + "\n")
    return study


def wanted(families: Sequence[str], kins: Sequence[str], seeds: Sequence[int]) -> Iterator[tuple[str, str, int]]:
    """Every hunt."""
    for seed in seeds:
        for family in families:
            for kin in kins:
                yield family, kin, seed


def run(folder: Path, hunts: Iterator[tuple[str, str, int]], method: Method) -> None:
    """Make the hunts that are not yet in the results."""
    folder.mkdir(parents=True, exist_ok=True)
    results = folder / "hunts.jsonl"
    for family, kin, seed in hunts:
        if any((r["family"], r["kin"], r["seed"]) == (family, kin, seed) for r in read(results)):
            continue
        problem = present_problem(family, seed)
        advisers = () if kin == ALONE else (past(folder, family, kin, seed),)
        record = {"family": family, "kin": kin, **hunt(problem, method, seed, TRIALS, advisers)}
        with results.open("a", encoding="utf-8") as lines:
            lines.write(json.dumps(record) + "\n")


def run_outlooks(folder: Path, hunts: Iterator[tuple[str, str, int]]) -> None:
    """What the outlook says after each trial of a hunt, and what is true."""
    folder.mkdir(parents=True, exist_ok=True)
    results = folder / "outlooks.jsonl"
    for family, kin, seed in hunts:
        if any((record["family"], record["kin"], record["seed"]) == (family, kin, seed) for record in read(results)):
            continue
        problem = present_problem(family, seed)
        study = Study(problem.sheet, advisers=() if kin == ALONE else (past(folder, family, kin, seed),))
        told = []
        for number in range(TRIALS):
            study = study.with_trial(problem.trial(dict(ask_ours(study, seed)), 1000 * seed + number))
            ahead, short = outlook(study), problem.optimum - problem.truth(recommend(study).settings)
            told.append([round(ahead.chance_near_best, 4), bool(short <= ahead.eps), round(ahead.gain_left, 3), short])
        with results.open("a", encoding="utf-8") as lines:
            lines.write(json.dumps({"family": family, "kin": kin, "seed": seed, "said": told}) + "\n")


def table_of_outlooks(records: Sequence[dict[str, Any]]) -> list[str]:
    """What was said and what was true, as lines of a table."""
    heads = ["family", "adviser", "trials", "outlooks", "said on average", "right", "points left, said", "true"]
    lines = [f"| {' | '.join(heads)} |", "| --- " * len(heads) + "|"]
    for family in dict.fromkeys(record["family"] for record in records):
        for kin in (ALONE, *KINS):
            own = [record["said"] for record in records if (record["family"], record["kin"]) == (family, kin)]
            for first, last in SPANS if own else ():
                told = np.concatenate([said[first - 1 : last] for said in own])
                said, right, gain, short = told.mean(axis=0)
                shares = f"{100 * said:.0f} % | {100 * right:.0f} % | {gain:.1f} | {short:.1f}"
                lines.append(f"| {family} | {kin} | {first} to {last} | {len(told)} | {shares} |")
    return lines


def table_of_chances(records: Sequence[dict[str, Any]]) -> list[str]:
    """How often outlooks beside advisers were right, by how sure they were, as lines of a table."""
    told = {kin: [entry[:2] for record in records if record["kin"] == kin for entry in record["said"]] for kin in KINS}
    told = {kin: own for kin, own in told.items() if own}
    lines = [f"| said | right | {' | '.join(told)} |", "| --- " * (2 + len(told)) + "|"]
    for low, high in pairwise(EDGES):
        each = [[right for said, right in own if low <= said < high or said == high == 1.0] for own in told.values()]
        shares = " | ".join(_share(own) for own in [list(chain(*each)), *each])
        lines.append(f"| {100 * low:.0f} to {100 * high:.0f} % | {shares} |")
    return lines


def _share(right: Sequence[bool]) -> str:
    return f"{100 * np.mean(right):.0f} % of {len(right)}" if right else "none"


def read(file: Path) -> list[dict[str, Any]]:
    """The lines so far."""
    if not file.exists():
        return []
    return [json.loads(line) for line in file.read_text(encoding="utf-8").splitlines() if line]


def table(records: Sequence[dict[str, Any]]) -> list[str]:
    """The results as lines of a table."""
    lines = [
        "| family | adviser | hunts | by 5 | by 10 | by 15 | by 20 | median trials | left after 5 | 10 | 15 | 20 |"
    ]
    lines.append("| --- " * 12 + "|")
    for family in dict.fromkeys(record["family"] for record in records):
        for kin in (ALONE, *KINS):
            own = [record for record in records if (record["family"], record["kin"]) == (family, kin)]
            if own:
                at = np.array([record["solved_at"] or np.inf for record in own])
                left = np.array([record["regret"] for record in own])
                shares = " | ".join(f"{100 * np.mean(at <= by):.0f} %" for by in (5, 10, 15, 20))
                rests = " | ".join(f"{100 * left[:, by - 1].mean():.1f} %" for by in (5, 10, 15, 20))
                middle = float(np.median(at))
                told = f"{middle:g}" if np.isfinite(middle) else f"> {TRIALS}"
                lines.append(f"| {family} | {kin} | {len(own)} | {shares} | {told} | {rests} |")
    return lines


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("command", choices=["run", "outlook", "report"])
    parser.add_argument("--family", action="append", default=[], choices=["job4", "parts4"])
    parser.add_argument("--kin", action="append", default=[], choices=[ALONE, *KINS])
    parser.add_argument("--way", default="shipped", choices=list(WAYS))
    parser.add_argument("--seeds", type=int, nargs=2, help="first and one past last")
    parser.add_argument("--folder", type=Path, default=FOLDER)
    options = parser.parse_args()
    usual = OUTLOOK_SEEDS if options.command == "outlook" else SEEDS
    seeds = range(*options.seeds) if options.seeds else usual
    hunts = wanted(options.family or ["job4", "parts4"], options.kin or [ALONE, *KINS], seeds)
    if options.command == "run":
        run(options.folder, hunts, WAYS[options.way])
    if options.command == "outlook":
        run_outlooks(options.folder, hunts)
    if options.command == "report":
        sheet = write_sheet(JobSpace(SEEDS[0]).sheet())
        (options.folder / "sheet.toml").write_text(sheet, encoding="utf-8")
    outlooks = read(options.folder / "outlooks.jsonl")
    told = [table(read(options.folder / "hunts.jsonl")), table_of_outlooks(outlooks), table_of_chances(outlooks)]
    print("\n\n".join("\n".join(lines) for lines in told))  # noqa: T201


if __name__ == "__main__":
    main()
