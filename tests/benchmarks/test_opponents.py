"""Every opponent proposes what the sheet permits, and the same again from the same study and seed."""

import sys
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import pytest

ROOT = Path(__file__).parents[2]
NAMES = ("sobol", "optuna tpe", "optuna gp", "baybe", "ax")
SPACES = ("spots", "free mic", "knobs")


@pytest.fixture
def benchmark(monkeypatch: pytest.MonkeyPatch) -> None:
    """Makes the benchmark's modules importable from wherever the tests run."""
    monkeypatch.syspath_prepend(str(ROOT))


def _problem(kind: str) -> Any:
    from tests.benchmarks.job_family import JobSpace
    from tests.benchmarks.problems import hartmann6

    return hartmann6() if kind == "knobs" else JobSpace(1000, free_mic=kind == "free mic").problem()


def _method(name: str) -> Any:
    from tests.benchmarks.opponents.roster import OPPONENTS

    method = next(method for method in OPPONENTS if method.name == name)
    if not all(find_spec(module) for module in method.needs):
        pytest.skip("the extra `bench` is not installed")
    return method


@pytest.mark.filterwarnings("ignore:.*:DeprecationWarning")  # what libraries say of themselves while they load
@pytest.mark.parametrize("kind", SPACES)
@pytest.mark.parametrize("name", NAMES)
def test_opponents_propose_what_is_permitted(benchmark: None, name: str, kind: str) -> None:  # noqa: ARG001
    from optimiser.study import Study

    method, problem = _method(name), _problem(kind)
    space, study = problem.sheet.space, Study(problem.sheet)
    rng = np.random.default_rng(0)
    asked = [method.ask(study, 7)]
    for number in range(6):
        study = study.with_trial(problem.trial(space.sample(rng), number))
        if number in (1, 5):
            asked.append(method.ask(study, 7))
    assert all(space.allows(settings) for settings in asked)
    assert asked[-1] == method.ask(study, 7)
    assert space.key(method.keep(study)) in {space.key(trial.settings) for trial in study.trials}


def test_sobol_never_repeats_itself_and_fills_the_knobs(benchmark: None) -> None:  # noqa: ARG001
    from optimiser.study import Study

    method, problem = _method("sobol"), _problem("knobs")
    study = Study(problem.sheet)
    for number in range(16):
        study = study.with_trial(problem.trial(method.ask(study, 3), number))
    first = [trial.settings["x1"] for trial in study.trials]
    assert {int(float(str(number)) * 16 * 0.999999) for number in first} == set(range(16))


def test_a_method_whose_library_is_missing_says_what_to_install(
    benchmark: None,  # noqa: ARG001
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from tests.benchmarks import proposals_benchmark

    monkeypatch.setattr(proposals_benchmark, "find_spec", lambda module: None if module == "ax" else sys)
    assert "ax" not in {method.name for method in proposals_benchmark.chosen([])}
    with pytest.raises(SystemExit, match=r"pip install '\.\[bench\]'"):
        proposals_benchmark.chosen(["ax"])
