"""The proposals' benchmark: ours beside others on problems whose answer is known.

    python -m tests.benchmarks.proposals_benchmark run --small
    python -m tests.benchmarks.proposals_benchmark run
    python -m tests.benchmarks.proposals_benchmark report

`run` adds one line for each hunt to hunts.jsonl and goes on where it stopped; `report` makes of them summary.csv,
regret.png, solved.png and minutes.png, and writes the sheet of the first reported job space. `--shard 1/2` makes every
second hunt only, for two processes side by side.
"""

import argparse
import importlib
import json
from collections.abc import Iterator, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Final

from optimiser.study import write_sheet
from tests.benchmarks.ablations import ABLATIONS, ABLATIONS_OF_PARTS, FOUR_AT_ONCE, PLAIN
from tests.benchmarks.hunting import hunt
from tests.benchmarks.job_family import FIRST_REPORTING_SEEDS, REPORTING_SEEDS, JobSpace
from tests.benchmarks.methods import METHODS, Method
from tests.benchmarks.opponents.roster import OPPONENTS
from tests.benchmarks.parts_family import PartsSpace
from tests.benchmarks.problems import Problem, branin, hartmann6
from tests.benchmarks.rehearsal_problem import rehearsal

FOLDER: Final = Path(__file__).parents[2] / "studies" / "proposals-benchmark"
DRAWS: Final = {"first": FIRST_REPORTING_SEEDS, "second": REPORTING_SEEDS}
"""The second was drawn when the first had been looked at before some choices were made."""

TRIALS: Final = 30
SMALL_TRIALS: Final = 20
SMALL_SPACES: Final = 4
SMALL_METHODS: Final = ("ours", "random", "one at a time")
VARIANTS: Final = (*ABLATIONS, *ABLATIONS_OF_PARTS, PLAIN, FOUR_AT_ONCE)
ALL_METHODS: Final = (*METHODS, *OPPONENTS, *VARIANTS)
VARIANTS_ON: Final = {
    "job4": [method.name for method in (*ABLATIONS, FOUR_AT_ONCE)],
    "job4-costly-mic": ["effort left out", PLAIN.name],
    "parts4": [method.name for method in (*ABLATIONS, *ABLATIONS_OF_PARTS)],
    "parts4-upside-down": ["without trade rules"],
    "parts4-misled": ["without trade rules"],
}
"""The families on which variants of ours are tried."""

FEW_SEEDS: Final = 10
"""Seeds on problems of which there is only one."""


def families(small: bool, draw: str) -> Iterator[tuple[str, list[tuple[Problem, int]]]]:
    """Each family's name with its problems of one draw, each with the seed of the hunt."""
    seeds = list(DRAWS[draw])[: SMALL_SPACES if small else None]
    yield "job4", [(JobSpace(seed).problem(), seed) for seed in seeds]
    if small:
        return
    few = seeds[:FEW_SEEDS]
    for seeds_of, kind in (
        (few, {"orders": "none"}),
        (few, {"orders": "neighbours"}),
        (few, {"interactions": "weak"}),
        (few, {"interactions": "strong"}),
        (few, {"free_mic": True}),
        (seeds, {"upside_down": True}),
        (seeds, {"riffs": 5}),
        (seeds, {"costly_mic": True}),
    ):
        spaces = [JobSpace(seed, **kind) for seed in seeds_of]
        yield spaces[0].family, [(space.problem(), space.seed) for space in spaces]
    for rules in ("right", "upside down", "misled"):
        of_parts = [PartsSpace(seed, rules) for seed in seeds]
        yield of_parts[0].family, [(space.problem(), space.seed) for space in of_parts]
    yield "branin", [(branin(), seed) for seed in range(FEW_SEEDS)]
    yield "hartmann6", [(hartmann6(), seed) for seed in range(FEW_SEEDS)]
    yield "rehearsal", [(rehearsal(FOLDER), seed) for seed in range(FEW_SEEDS)]


def chosen(names: Sequence[str]) -> list[Method]:
    """The methods of these names, or all but variants of ours that can run here; the cheap ones first.

    Raises:
        SystemExit: a method asked for by name needs what is not installed.
    """
    methods = [method for method in ALL_METHODS if (method.name in names if names else method not in VARIANTS)]
    able = [method for method in methods if all(find_spec(module) for module in method.needs)]
    for method in methods:
        if names and method not in able:
            raise SystemExit(f"The method {method.name} needs more libraries: pip install '.[bench]'")
    return sorted(able, key=lambda method: method.slow)


def wanted(
    small: bool, draw: str, methods: Sequence[Method], only: Sequence[str], seeds: int | None
) -> Iterator[tuple[str, Problem, Method, int]]:
    """Every hunt of the benchmark, family by family."""
    for family, problems in families(small, draw):
        if only and family not in only:
            continue
        for method in methods:
            if method not in VARIANTS or method.name in VARIANTS_ON.get(family, ()):
                for problem, seed in problems[:seeds]:
                    yield family, problem, method, seed


def run(folder: Path, hunts: Iterator[tuple[str, Problem, Method, int]], shard: str, trials: int) -> None:
    """Make the hunts that are not yet in the results."""
    folder.mkdir(parents=True, exist_ok=True)
    results = folder / "hunts.jsonl"
    part, parts = (int(number) for number in shard.split("/"))
    for place, (family, problem, method, seed) in enumerate(hunts):
        if place % parts == part % parts and (problem.name, method.name, seed) not in _done(results):
            for module in method.needs:
                importlib.import_module(module)
            record = {"family": family, **hunt(problem, method, seed, trials)}
            with results.open("a", encoding="utf-8") as lines:
                lines.write(json.dumps(record) + "\n")
            print(f"{problem.name:24} {method.name:16} seed {seed:5} solved at {record['solved_at']}")  # noqa: T201


def _done(results: Path) -> set[tuple[str, str, int]]:
    return {(record["problem"], record["method"], record["seed"]) for record in read(results)}


def read(results: Path) -> list[dict[str, Any]]:
    """The hunts made so far."""
    if not results.exists():
        return []
    return [json.loads(line) for line in results.read_text(encoding="utf-8").splitlines() if line]


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("command", choices=["run", "report"])
    parser.add_argument("--small", action="store_true", help="four job spaces, 20 trials, three methods")
    parser.add_argument("--variants", action="store_true", help="variants of ours alone, where they are to be tried")
    names = [method.name for method in ALL_METHODS]
    parser.add_argument(
        "--method", action="append", default=[], choices=names, help="only this method, may be given several times"
    )
    parser.add_argument("--family", action="append", default=[], help="only this family, may be given several times")
    parser.add_argument("--seeds", type=int, help="only so many problems of each family")
    parser.add_argument("--shard", default="0/1", help="part/parts")
    parser.add_argument("--draw", choices=list(DRAWS), default="second", help="of made-up spaces")
    parser.add_argument("--folder", type=Path, help="default: the study's folder for the draw")
    options = parser.parse_args()
    folder = options.folder or FOLDER / f"{options.draw}-draw"
    if options.command == "run":
        usual = SMALL_METHODS if options.small else [v.name for v in VARIANTS] if options.variants else ()
        methods = chosen(options.method or usual)
        hunts = wanted(options.small, options.draw, methods, options.family, options.seeds)
        run(folder, hunts, options.shard, SMALL_TRIALS if options.small else TRIALS)
    else:
        from tests.benchmarks.reporting import report

        plotted = [method.name for method in (*METHODS, *OPPONENTS)]
        report(read(folder / "hunts.jsonl"), folder, plotted)
        sheet = write_sheet(JobSpace(DRAWS[options.draw][0]).sheet())
        (folder / "sheet.toml").write_text(sheet, encoding="utf-8")


if __name__ == "__main__":
    main()
