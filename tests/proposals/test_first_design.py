"""The first trials are spread over every kind of setting and the same each time."""

from collections.abc import Callable
from itertools import combinations

import numpy as np
import pytest

from optimiser.errors import NothingLeft
from optimiser.proposals import propose
from optimiser.proposals.first_design import next_first
from optimiser.proposals.ground import Ground
from optimiser.space import Settings, encode, encoding
from optimiser.study import Study, load_sheet
from optimiser.surrogate import kernel_of

Hunt = Callable[..., Study]


def _design(study: Study, count: int, seed: int) -> list[Settings]:
    return next_first(Ground(study.sheet.space, {}), [], count, np.random.default_rng(seed))


def _alikeness(study: Study, design: list[Settings]) -> float:
    """The largest covariance between two trials of a design, under the kernel's scales as believed beforehand."""
    kernel = kernel_of(encoding(study.sheet.space))
    rows = encode(study.sheet.space, design)
    covariance = kernel.covary(kernel.compare(rows, rows), np.array([prior.mean for prior in kernel.priors]))[0]
    return max(float(covariance[one, other]) for one, other in combinations(range(len(design)), 2))


def test_every_step_and_most_spots_get_their_turn(job: Hunt) -> None:
    for seed in range(5):
        design = _design(job(), 5, seed)
        assert {settings["stage"] for settings in design} == {"open", "pushed", "full"}
        assert len({str(settings["mic"]) for settings in design}) == 4


def test_gain_is_not_left_in_one_half(job: Hunt) -> None:
    for seed in range(5):
        gains = [float(str(settings["gain"])) for settings in _design(job(), 5, seed)]
        assert max(gains) - min(gains) > 0.4 * 9.0
        assert min(gains) < 12.5 < max(gains)


def test_no_two_trials_are_as_alike_as_random_ones(job: Hunt) -> None:
    """Against the median of random designs of the same size."""
    study, rng = job(), np.random.default_rng(0)
    by_chance = [_alikeness(study, [study.sheet.space.sample(rng) for _ in range(5)]) for _ in range(40)]
    designed = [_alikeness(study, _design(study, 5, seed)) for seed in range(5)]
    assert np.mean(designed) < np.median(by_chance)


def test_one_after_the_other_is_spread_too(job: Hunt) -> None:
    """Asked one trial at a time, with other draws each time, no arrangement comes twice and every step is tried."""
    study = job()
    done: list[Settings] = []
    for turn in range(6):
        done += next_first(Ground(study.sheet.space, {}).without(*done), done, 1, np.random.default_rng(turn))
    assert len({study.sheet.space.key(settings) for settings in done}) == 6
    assert {settings["stage"] for settings in done} == {"open", "pushed", "full"}


def test_rules_and_conditions_hold(choosy: Hunt) -> None:
    study = choosy()
    design = _design(study, 6, 1)
    assert all(study.sheet.space.allows(settings) for settings in design)
    assert {settings["cabinet"] for settings in design} == {"A", "B", "A and B"}


def test_a_small_space_gives_what_it_has() -> None:
    sheet = load_sheet('[study]\nname = "s"\n[settings.stage]\nkind = "stage"\nsteps = ["a", "b"]')
    assert len(_design(Study(sheet), 5, 0)) == 2


def test_a_sheet_that_forbids_everything_is_said() -> None:
    sheet = load_sheet(
        '[study]\nname = "s"\n[settings.stage]\nkind = "stage"\nsteps = ["a", "b"]\n[[never]]\nstage = ["a", "b"]'
    )
    with pytest.raises(NothingLeft):
        propose(Study(sheet))
