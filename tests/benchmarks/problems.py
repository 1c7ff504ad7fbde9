"""Problems for the search: a sheet, the noiseless value of every arrangement, the noise of one trial.

A problem publishes its optimum and the mean of random settings, from which "solved" follows: a noiseless value of at
least optimum - 0.1 x (optimum - mean of random settings).
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from optimiser.study import StudySheet, Trial, load_sheet

SOLVED_SHARE: Final = 0.1


@dataclass(frozen=True)
class Problem:
    """One hunt whose answer is known.

    Attributes:
        name: what it is called in the results.
        sheet: its study sheet.
        truth: noiseless value of an arrangement, more being better.
        trial: one trial at an arrangement, from a seed.
        optimum: highest noiseless value.
        random_mean: mean noiseless value of random settings.
    """

    name: str
    sheet: StudySheet
    truth: Callable[[Mapping[str, Any]], float]
    trial: Callable[[Mapping[str, Any], int], Trial]
    optimum: float
    random_mean: float

    @property
    def target(self) -> float:
        """The noiseless value from which the problem counts as solved."""
        return self.optimum - SOLVED_SHARE * (self.optimum - self.random_mean)

    def regret(self, value: float) -> float:
        """What is left, as a share of the way from random settings to the optimum."""
        return (self.optimum - value) / (self.optimum - self.random_mean)


def with_noise(
    truth: Callable[[Mapping[str, Any]], float], noise_sd: float
) -> Callable[[Mapping[str, Any], int], Trial]:
    """Trials whose value is the truth plus normal noise."""

    def trial(settings: Mapping[str, Any], seed: int) -> Trial:
        return Trial(dict(settings), overall=truth(settings) + noise_sd * np.random.default_rng(seed).normal())

    return trial


def branin() -> Problem:
    """Branin's function, negated: optimum -0.397887 [DixonSzego1978]."""

    def truth(settings: Mapping[str, Any]) -> float:
        x, y = settings["x"], settings["y"]
        bowl = y - 5.1 / (4 * math.pi**2) * x**2 + 5 / math.pi * x - 6
        return float(-(bowl**2) - 10 * (1 - 1 / (8 * math.pi)) * math.cos(x) - 10)

    sheet = _knobs({"x": (-5.0, 10.0), "y": (0.0, 15.0)})
    return Problem("branin", sheet, truth, with_noise(truth, 0.0), -0.397887357730, _random_mean(sheet, truth))


_ALPHA: Final = np.array([1.0, 1.2, 3.0, 3.2])
_A: Final = np.array(
    [[10, 3, 17, 3.5, 1.7, 8], [0.05, 10, 17, 0.1, 8, 14], [3, 3.5, 1.7, 10, 17, 8], [17, 8, 0.05, 10, 0.1, 14]]
)
_P: Final = 1e-4 * np.array(
    [
        [1312, 1696, 5569, 124, 8283, 5886],
        [2329, 4135, 8307, 3736, 1004, 9991],
        [2348, 1451, 3522, 2883, 3047, 6650],
        [4047, 8828, 8732, 5743, 1091, 381],
    ]
)


def hartmann6() -> Problem:
    """Hartmann's six-dimensional function, negated: optimum 3.322368 [DixonSzego1978]."""
    names = [f"x{number}" for number in range(1, 7)]

    def truth(settings: Mapping[str, Any]) -> float:
        point = np.array([settings[name] for name in names])
        return float(_ALPHA @ np.exp(-(_A * (point - _P) ** 2).sum(axis=1)))

    sheet = _knobs(dict.fromkeys(names, (0.0, 1.0)))
    return Problem("hartmann6", sheet, truth, with_noise(truth, 0.0), 3.322368011415, _random_mean(sheet, truth))


def _knobs(ranges: Mapping[str, tuple[float, float]]) -> StudySheet:
    lines = ["[study]", 'name = "knobs"', "trials_planned = 30"]
    for name, (low, high) in ranges.items():
        lines += [f"[settings.{name}]", 'kind = "knob"', 'scale = "number"', f"low = {low}", f"high = {high}"]
        lines += [f"tolerance = {(high - low) / 1000}", "effort_minutes = 0.2"]
    return load_sheet("\n".join(lines))


def _random_mean(sheet: StudySheet, truth: Callable[[Mapping[str, Any]], float], draws: int = 20000) -> float:
    rng = np.random.default_rng(12345)
    return float(np.mean([truth(sheet.space.sample(rng)) for _ in range(draws)]))
