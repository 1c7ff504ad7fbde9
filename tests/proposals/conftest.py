"""Study sheets and hunts that several tests use."""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest

from optimiser.study import Study, Trial, load_sheet

JOB = """
[study]
name = "job"
minutes_per_trial = 5
trials_planned = 20
[settings.gain]
kind = "knob"
scale = "clock"
low = "8:00"
high = "17:00"
[settings.stage]
kind = "stage"
steps = ["open", "pushed", "full"]
[settings.mic]
kind = "mic"
effort_minutes = 1.5
spots = [
  { name = "cap", radial_mm = 0, distance_mm = 20, angle_deg = 0 },
  { name = "edge", radial_mm = 25, distance_mm = 20, angle_deg = 0 },
  { name = "cone", radial_mm = 60, distance_mm = 20, angle_deg = 0 },
  { name = "far", radial_mm = 0, distance_mm = 150, angle_deg = 0 },
]
[settings.riffs]
kind = "riff order"
riffs = ["chugs", "held chord", "run", "two-note"]
"""

CHOOSY = """
[study]
name = "choosy"
[settings.gain]
kind = "knob"
scale = "number"
low = 0
high = 10
[settings.stage]
kind = "stage"
steps = ["open", "full"]
[settings.cabinet]
kind = "choice"
options = ["A", "B", "A and B"]
[settings.blend]
kind = "knob"
scale = "number"
unit = "dB"
low = -12
high = 0
only_when = { cabinet = ["A and B"] }
[settings.mic]
kind = "mic"
free = true
radial_mm = [0, 80]
distance_mm = [10, 200]
angle_deg = [0, 45]
[settings.riffs]
kind = "riff order"
riffs = ["a", "b", "c", "d", "e"]
use = 3
[[never]]
stage = ["full"]
gain = { above = 7 }
[reading]
wanted = [6, 8]
"""


def _job_value(settings: Mapping[str, Any]) -> float:
    """A smooth score with one best arrangement: gain 12:00, pushed, edge, chugs before run."""
    gain = -2.0 * (settings["gain"] - 12.0) ** 2
    stage = {"open": -3.0, "pushed": 0.0, "full": -5.0}[settings["stage"]]
    mic = {"cap": -2.0, "edge": 0.0, "cone": -4.0, "far": -6.0}[settings["mic"]]
    order = settings["riffs"]
    return float(80.0 + gain + stage + mic + (4.0 if order.index("chugs") < order.index("run") else 0.0))


def _choosy_value(settings: Mapping[str, Any]) -> float:
    """A score in which every setting of the choosy sheet takes part."""
    blend = -0.1 * (settings["blend"] + 4.0) ** 2 if "blend" in settings else -4.0
    away = abs(settings["mic"]["radial_mm"] - 30.0) / 10.0 + abs(settings["mic"]["distance_mm"] - 50.0) / 40.0
    return float(70.0 - (settings["gain"] - 5.0) ** 2 + blend - away + 2.0 * (settings["riffs"][0] == "a"))


Hunt = Callable[..., Study]
"""hunt(trials, seed=0, noise=0.5): a study with so many trials at random settings."""


@pytest.fixture
def job_value() -> Callable[[Mapping[str, Any]], float]:
    """The score behind the job's study."""
    return _job_value


@pytest.fixture
def job() -> Hunt:
    """Hunts on a sheet with a gain clock, a stage, four spots and four riffs."""
    return lambda trials=0, seed=0, noise=0.5: _random_study(JOB, _job_value, trials, seed, noise)


@pytest.fixture
def choosy() -> Hunt:
    """Hunts on a sheet with a condition, a rule, a free mic, three of five riffs and a reading."""
    return lambda trials=0, seed=0, noise=0.5: _random_study(CHOOSY, _choosy_value, trials, seed, noise)


def _random_study(
    text: str, value: Callable[[Mapping[str, Any]], float], trials: int, seed: int, noise: float
) -> Study:
    study, rng = Study(load_sheet(text)), np.random.default_rng(seed)
    for _ in range(trials):
        settings = study.sheet.space.sample(rng)
        reading = (
            None if study.sheet.reading is None else float(np.clip(9.0 - float(str(settings["gain"])) / 2.0, 0, 10))
        )
        study = study.with_trial(Trial(settings, overall=value(settings) + noise * rng.normal(), reading=reading))
    return study
