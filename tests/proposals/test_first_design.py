"""The first trials are spread over every kind of setting and the same each time."""

from collections.abc import Callable
from itertools import combinations, pairwise

import numpy as np
import pytest

from optimiser.errors import NothingLeft
from optimiser.proposals import propose
from optimiser.proposals.effort import pace_of
from optimiser.proposals.first_design import next_first
from optimiser.proposals.ground import Ground
from optimiser.space import Settings, encode, encoding
from optimiser.study import Study, load_sheet
from optimiser.surrogate import kernel_of

MOVABLE = """
[study]
name = "movable"
minutes_per_trial = 3
[settings.gain]
kind = "knob"
low = 0
high = 10
[settings.stage]
kind = "stage"
steps = ["open", "pushed", "full"]
[settings.mic]
kind = "mic"
spots = ["a", "b", "c", "d"]
effort_minutes = {minutes}
"""

Hunt = Callable[..., Study]


def _design(study: Study, count: int, seed: int) -> list[Settings]:
    ground, design, rng = Ground(study.sheet.space, {}), list[Settings](), np.random.default_rng(seed)
    while len(design) < count:
        following = next_first(ground.without(*design), design, pace_of(study), None, rng)
        if following is None:
            break
        design.append(following)
    return design


def _walk(study: Study, count: int, seed: int) -> list[Settings]:
    """A design made one after the other, each from where the chain stands."""
    design, rng = list[Settings](), np.random.default_rng(seed)
    for _ in range(count):
        ground = Ground(study.sheet.space, {}).without(*design)
        following = next_first(ground, design, pace_of(study), design[-1] if design else None, rng)
        assert following is not None
        design.append(following)
    return design


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
    """Asked one trial at a time no arrangement comes twice and every step is tried."""
    study = job()
    done = _walk(study, 6, 0)
    assert len({study.sheet.space.key(settings) for settings in done}) == 6
    assert {settings["stage"] for settings in done} == {"open", "pushed", "full"}


def test_where_moving_the_mic_is_dear_it_is_moved_less() -> None:
    """Six first trials of three minutes, a move of the mic six more: fewer moves than where nothing is dear."""
    moves = {}
    for minutes in (0.0, 6.0):
        study = Study(load_sheet(MOVABLE.format(minutes=minutes)))
        walks = [[trial["mic"] for trial in _walk(study, 6, seed)] for seed in range(5)]
        moves[minutes] = sum(one != other for walk in walks for one, other in pairwise(walk))
    assert moves[6.0] < 0.7 * moves[0.0]


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
