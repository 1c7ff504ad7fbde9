"""What is believed beforehand helps where it is right, gives way where it is wrong, and can be switched off."""

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from optimiser.proposals import propose, recommend
from optimiser.proposals.asking import believed
from optimiser.proposals.evidence import factors_of
from optimiser.study import Study, Trial, load_sheet
from optimiser.surrogate import Product
from tests.proposals.conftest import JOB

WANTED = """
[goal]
gain = "1:00"
stage = "pushed"
mic = "edge"
"""
OFF = """
[search]
trade_rules = false
"""


def taken(settings: Mapping[str, Any], *, upside_down: bool = False) -> Trial:
    """A match that falls with gain and stage, or rises with them, and a goal best at 1:00, pushed, edge."""
    drive = (settings["gain"] - 8.0) / 9.0 + ["open", "pushed", "full"].index(settings["stage"]) / 2.0
    if upside_down:
        drive = 2.0 - drive
    goal = -((settings["gain"] - 13.0) ** 2) / 12.0 - 0.4 * (settings["stage"] != "pushed")
    goal -= {"edge": 0.0, "cap": 0.1, "cone": 0.5, "far": 0.3}[settings["mic"]]
    return Trial(settings, match=95.0 * math.exp(-0.9 * drive**2), goal=60.0 * math.exp(goal), articulation_kept=1.0)


def best_of(study: Study, *, upside_down: bool) -> float:
    """Best of many random settings; a goal counts in studies with a trial that has one."""
    rng = np.random.default_rng(3)
    many = [study.sheet.space.sample(rng) for _ in range(3000)]
    return max(overall(study, taken(settings, upside_down=upside_down)) for settings in many)


def overall(study: Study, trial: Trial) -> float:
    found = study.overall(trial)
    assert found is not None
    return found[0]


def hunted(text: str, trials: int, *, upside_down: bool = False) -> tuple[Study, float]:
    """A hunt without noise and how far what it keeps lies below the best."""
    study = Study(load_sheet(text))
    for number in range(trials):
        settings = propose(study, seed=number)[0].settings
        study = study.with_trial(taken(settings, upside_down=upside_down))
    kept = taken(recommend(study).settings, upside_down=upside_down)
    return study, best_of(study, upside_down=upside_down) - overall(study, kept)


def test_a_hunt_starts_where_the_wanted_tone_was_recorded_and_says_so() -> None:
    first = propose(Study(load_sheet(JOB + WANTED)), seed=1)[0]
    assert {name: first.settings[name] for name in ("gain", "stage", "mic")} == {
        "gain": 13.0,
        "stage": "pushed",
        "mic": "edge",
    }
    assert first.settings["riffs"] == ["chugs", "held chord", "run", "two-note"]
    assert "where the wanted tone was recorded" in first.reason
    assert first.kind == "first design"


def test_several_at_once_start_there_too_and_spread() -> None:
    proposals = propose(Study(load_sheet(JOB + WANTED)), count=3, seed=1)
    assert sum("wanted tone" in proposal.reason for proposal in proposals) == 1
    assert len({str(proposal.settings) for proposal in proposals}) == 3


@pytest.mark.parametrize("text", [JOB, JOB + WANTED + OFF])
def test_without_it_a_hunt_starts_by_spreading(text: str) -> None:
    first = propose(Study(load_sheet(text)), seed=1)[0]
    assert first.settings["gain"] != 13.0 or first.settings["mic"] != "edge"


def test_a_start_that_may_not_be_is_left_out() -> None:
    never = '[[never]]\nstage = ["pushed"]\n'
    first = propose(Study(load_sheet(JOB + never + WANTED)), seed=1)[0]
    assert first.settings["stage"] != "pushed"
    assert "spread out" in first.reason


def test_parts_are_believed_apart_where_every_trial_has_them() -> None:
    study = Study(load_sheet(JOB))
    rng = np.random.default_rng(1)
    for _ in range(4):
        study = study.with_trial(taken(study.sheet.space.sample(rng)))
    top, factors = factors_of(study)
    assert top == 100.0
    assert [factor.name for factor in factors] == ["match", "goal"]
    assert [factor.power for factor in factors] == pytest.approx([0.4, 0.4])
    assert isinstance(believed(study).overall, Product)
    settings = study.sheet.space.sample(rng)
    assert factors_of(study.with_trial(Trial(settings, match=50.0)))[1] == ()
    assert factors_of(study.with_trial(Trial(settings, overall=50.0)))[1] == ()


def test_a_part_that_never_changes_counts_all_the_same() -> None:
    study = Study(load_sheet(JOB))
    rng = np.random.default_rng(1)
    for _ in range(5):
        trial = taken(study.sheet.space.sample(rng))
        study = study.with_trial(replace(trial, articulation_kept=0.5))
    assert factors_of(study)[0] == pytest.approx(100.0 * 0.5**0.2)
    means, _ = believed(study).mean_sd([dict(trial.settings) for trial in study.trials])
    assert means == pytest.approx([overall(study, trial) for trial in study.trials], rel=0.1)


def test_it_solves_a_ridge_between_match_and_goal_in_few_trials() -> None:
    _, left = hunted(JOB + WANTED, 8)
    assert left < 2.0


def test_where_the_rule_of_the_trade_is_wrong_the_trials_overrule_it() -> None:
    _, left = hunted(JOB + WANTED, 10, upside_down=True)
    assert left < 2.5
