"""Arrangements to look at: all of them where they are few, only permitted ones, and climbs that reach the top."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from optimiser.proposals.candidates import climb, spread
from optimiser.proposals.ground import Ground
from optimiser.proposals.rows import Encoder
from optimiser.space import Settings, encode
from optimiser.study import Study, load_sheet

Hunt = Callable[..., Study]


def test_every_countable_combination_is_looked_at(job: Hunt) -> None:
    space = job().sheet.space
    found = spread(Ground(space, {}), 400, np.random.default_rng(0))
    names = {(settings["stage"], settings["mic"], str(settings["riffs"])) for settings in found}
    assert len(names) == 3 * 4 * 24


def test_spread_keeps_locks_rules_and_what_was_made(choosy: Hunt) -> None:
    study = choosy(3)
    ground = Ground(study.sheet.space, {"cabinet": "A and B", "blend": -6.0})
    found = spread(ground, 200, np.random.default_rng(0))
    assert found
    for settings in found:
        assert study.sheet.space.allows(settings)
        assert settings["cabinet"] == "A and B"
        assert settings["blend"] == -6.0
    assert not ground.without(found[0]).permits(found[0])


def test_lock_outside_the_range_is_kept(job: Hunt) -> None:
    ground = Ground(job().sheet.space, {"gain": 7.5})
    assert spread(ground, 20, np.random.default_rng(0))[0]["gain"] == 7.5


def test_climb_reaches_the_best_arrangement(job: Hunt, job_value: Callable[[Mapping[str, Any]], float]) -> None:
    """From any start, since the score has a single top: 12:00, pushed, edge, chugs before run."""
    study = job()
    rng = np.random.default_rng(1)
    starts = [study.sheet.space.sample(rng) for _ in range(3)]
    ends = climb(Ground(study.sheet.space, {}), starts, lambda many: np.array([job_value(one) for one in many]), 40)
    for settings, height in ends:
        assert height == 84.0
        assert settings["gain"] == 12.0


def test_climb_follows_a_slanted_ridge() -> None:
    """Where single knobs are nearly stuck the gradient still leads up: a narrow ridge along x = y."""
    text = "\n".join(
        f'[settings.{name}]\nkind = "knob"\nscale = "number"\nlow = 0\nhigh = 1\ntolerance = 0.001' for name in "xy"
    )
    space = load_sheet(f'[study]\nname = "ridge"\n{text}').space

    def height(many: Sequence[Settings]) -> np.ndarray[Any, np.dtype[np.float64]]:
        points = np.array([[float(str(one["x"])), float(str(one["y"]))] for one in many])
        along, across = points.sum(axis=1) / 2, points[:, 0] - points[:, 1]
        return np.asarray(-((along - 0.8) ** 2) - 20.0 * across**2)

    start: Settings = {"x": 0.2, "y": 0.2}
    assert climb(Ground(space, {}), [start], height, 60)[0][1] > -0.01


def test_what_is_remembered_is_encoded_the_same(choosy: Hunt) -> None:
    study, rng = choosy(), np.random.default_rng(0)
    many = [study.sheet.space.sample(rng) for _ in range(30)]
    encoder = Encoder(study.sheet.space)
    for _ in range(2):
        np.testing.assert_array_equal(encoder(many), encode(study.sheet.space, many))
