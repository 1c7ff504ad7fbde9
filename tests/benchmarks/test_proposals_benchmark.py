"""The benchmark's problems keep what they publish, and a small version runs with one command and goes on."""

import json
import runpy
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture
def benchmark(monkeypatch: pytest.MonkeyPatch) -> None:
    """Makes the benchmark's modules importable from wherever the tests run."""
    monkeypatch.syspath_prepend(str(ROOT))


def test_branin_has_its_published_optimum(benchmark: None) -> None:  # noqa: ARG001
    """Dixon and Szego 1978: -0.397887 at (-pi, 12.275), (pi, 2.275), (9.42478, 2.475); no sample lies higher."""
    problem = runpy.run_path(str(ROOT / "tests/benchmarks/problems.py"))["branin"]()
    for x, y in ((-np.pi, 12.275), (np.pi, 2.275), (9.42478, 2.475)):
        assert problem.truth({"x": x, "y": y}) == pytest.approx(problem.optimum, abs=1e-5)
    rng = np.random.default_rng(0)
    assert max(problem.truth(problem.sheet.space.sample(rng)) for _ in range(2000)) <= problem.optimum


def test_hartmann_has_its_published_optimum(benchmark: None) -> None:  # noqa: ARG001
    """Dixon and Szego 1978: 3.322368 at (.20169, .15001, .47687, .27533, .31165, .65730); no sample lies higher."""
    problem = runpy.run_path(str(ROOT / "tests/benchmarks/problems.py"))["hartmann6"]()
    best = dict(
        zip((f"x{n}" for n in range(1, 7)), (0.20169, 0.15001, 0.47687, 0.27533, 0.31165, 0.65730), strict=True)
    )
    assert problem.truth(best) == pytest.approx(problem.optimum, abs=1e-5)
    rng = np.random.default_rng(0)
    assert max(problem.truth(problem.sheet.space.sample(rng)) for _ in range(2000)) <= problem.optimum


@pytest.mark.parametrize(
    "kind",
    [
        {"orders": "precedence"},
        {"orders": "neighbours"},
        {"orders": "none"},
        {"interactions": "weak"},
        {"interactions": "strong"},
        {"free_mic": True},
        {"upside_down": True},
    ],
)
def test_job_spaces_keep_their_optimum_and_mean(benchmark: None, kind: dict[str, Any]) -> None:  # noqa: ARG001
    """On random settings: none lies above the optimum, and their mean is the published one within five errors."""
    space = runpy.run_path(str(ROOT / "tests/benchmarks/job_family.py"))["JobSpace"](1000, **kind)
    problem = space.problem()
    rng = np.random.default_rng(0)
    values = np.array([problem.truth(problem.sheet.space.sample(rng)) for _ in range(1500)])
    assert values.max() <= problem.optimum + 1e-9
    assert values.mean() == pytest.approx(problem.random_mean, abs=5 * values.std() / np.sqrt(len(values)))
    assert problem.regret(problem.target) == pytest.approx(0.1)


def test_tuning_and_reporting_draws_are_apart(benchmark: None) -> None:  # noqa: ARG001
    family = runpy.run_path(str(ROOT / "tests/benchmarks/job_family.py"))
    names = ("TUNING_SEEDS", "FIRST_REPORTING_SEEDS", "REPORTING_SEEDS", "SOBERING_SEEDS", "OUTLOOK_SEEDS")
    draws = [set(family[name]) for name in names]
    assert len(set.union(*draws)) == sum(map(len, draws))


@pytest.mark.ci
def test_small_benchmark_runs_goes_on_and_favours_ours(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "tests.benchmarks.proposals_benchmark"]
    run = [*command, "run", "--small", "--folder", str(tmp_path)]
    for _ in range(2):
        subprocess.run(run, cwd=ROOT, check=True, capture_output=True)
        records = [json.loads(line) for line in (tmp_path / "hunts.jsonl").read_text(encoding="utf-8").splitlines()]
        assert len(records) == 4 * 3
    left = {
        method: np.mean([record["regret"][-1] for record in records if record["method"] == method])
        for method in ("ours", "random")
    }
    assert left["ours"] < left["random"]


def test_any_number_of_methods_is_told_apart(benchmark: None) -> None:  # noqa: ARG001
    lines = runpy.run_path(str(ROOT / "tests/benchmarks/reporting.py"))["lines"]
    names = ["random", *(f"method {number}" for number in range(30)), "ours"]
    styles = lines(names)
    assert set(styles) == set(names)
    assert len(set(styles.values())) == len(names)
    assert set(lines(["random", "method 0"])) == {"random", "method 0"}
