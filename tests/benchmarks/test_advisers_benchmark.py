"""The rank-weighted opponent weighs as its paper says, sisters are what they are called, a small run goes on."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(autouse=True)
def benchmark(monkeypatch: pytest.MonkeyPatch) -> None:
    """Makes the benchmark's modules importable from wherever the tests run."""
    monkeypatch.syspath_prepend(str(ROOT))


def test_rank_loss_by_hand() -> None:
    """Feurer, Letham, Bakshy 2018 equation 3: (1, 3, 2) against (1, 2, 3) has one wrong pair of three, reversed all."""
    from tests.benchmarks.ranked_ensemble import rank_losses

    draws = np.array([[1.0, 2.0, 3.0], [1.0, 3.0, 2.0], [3.0, 2.0, 1.0]])
    assert rank_losses(draws, np.array([1.0, 2.0, 3.0])).tolist() == [0.0, 1.0, 3.0]


def test_rank_weights_by_hand() -> None:
    """Two draws of four go to the first adviser, one to the second, one to the new belief, which wins ties."""
    from tests.benchmarks.ranked_ensemble import rank_weights

    first, second, own = np.array([0.0, 0, 2, 3]), np.array([1.0, 1, 0, 3]), np.array([3.0, 3, 3, 3])
    assert rank_weights([first, second, own]).tolist() == [0.5, 0.25, 0.25]


def test_an_adviser_that_ranks_backwards_is_left_out() -> None:
    from tests.benchmarks.ranked_ensemble import rank_weights

    own, backwards = np.array([0.0, 1, 2, 4]), np.array([6.0, 6, 5, 0])
    assert rank_weights([backwards, own]).tolist() == [0.0, 1.0]


def test_sisters_are_as_related_as_they_are_called() -> None:
    from tests.benchmarks.job_family import JobSpace
    from tests.benchmarks.sister_family import SisterJob

    def alike(kin: str, seed: int) -> float:
        here, there = JobSpace(seed).tables[0], SisterJob(seed, kin=kin).tables[0]
        return float(np.corrcoef(here.ravel(), there.ravel())[0, 1])

    for seed in (1000, 1001, 1002):
        assert alike("agreeing", seed) > 0.9
        assert 0.6 < alike("partly", seed) < alike("agreeing", seed)
        assert alike("misleading", seed) == pytest.approx(-1.0)


@pytest.mark.ci
def test_a_small_run_goes_on_and_an_adviser_that_agrees_saves_trials(tmp_path: Path) -> None:
    words = ["--family", "job4", "--kin", "alone", "--kin", "agreeing", "--seeds", "1000", "1002"]
    run = [sys.executable, "-m", "tests.benchmarks.advisers_benchmark", "run", *words, "--folder", str(tmp_path)]
    for _ in range(2):
        subprocess.run(run, cwd=ROOT, check=True, capture_output=True)
        records = [json.loads(line) for line in (tmp_path / "hunts.jsonl").read_text(encoding="utf-8").splitlines()]
        assert len(records) == 4
    left = {
        kin: np.mean([record["regret"][4] for record in records if record["kin"] == kin])
        for kin in ("alone", "agreeing")
    }
    assert left["agreeing"] < left["alone"]
