"""Seeded spaces whose trials carry a match, a goal and an articulation, as those of a real study do.

The match falls behind a cliff of gain and stage, the goal falls away from where the wanted tone was recorded, the
articulation sinks with the drive; so the best arrangement lies between what suits the capture and what was wanted.
Spots and orders act on match and goal alike. In `rules="upside down"` match and articulation fall towards less gain and
stage, the opposite of what the trade knows; in `rules="misled"` the sheet tells settings of the wanted tone that have
nothing to do with it. Everything about one member follows from its seed; draws are those of `job_family`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, permutations
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from optimiser.study import StudySheet, Trial, load_sheet
from tests.benchmarks.job_family import GRID, HIGH_HOURS, LOW_HOURS, NEAREST, REACH, RIFFS, SPOTS, STAGES, spots_in_toml
from tests.benchmarks.problems import Problem

Array = NDArray[np.float64]

WEIGHTS: Final = {"match": 1.0, "goal": 1.0, "articulation": 0.5}
WANTED_DRIVE: Final = (0.45, 0.8)
"""Share of the gain knob's travel at which the wanted tone was recorded."""

CLIFF_BEFORE: Final = (0.05, 0.3)
"""Share of the travel by which the cliff of the match lies below the wanted tone's drive."""

STAGE_SHIFT: Final = (0.08, 0.25)
CLIFF_FALL: Final = (25.0, 50.0)
"""Points of match lost behind the cliff."""

CLIFF_WIDTH: Final = (0.03, 0.1)
GOAL_FALL: Final = (30.0, 70.0)
"""Points of goal lost over the whole travel away from the wanted drive."""

SPOT_MATCH_SD: Final = 2.0
SPOT_GOAL_SD: Final = 8.0
ORDER_MATCH_SD: Final = (2.0, 5.0)
ARTICULATION_FALL: Final = (0.1, 0.4)
NOISE: Final = {"match": 1.0, "goal": 0.7, "articulation_kept": 0.01}
"""Standard deviations between repeats."""


@dataclass(frozen=True)
class PartsSpace:
    """One member.

    Attributes:
        seed: everything follows from it.
        rules: `right`, `upside down` or `misled`.
    """

    seed: int
    rules: str = "right"

    @cached_property
    def wanted(self) -> tuple[float, int, int]:
        """Gain as a share of its travel, stage and spot of the wanted tone."""
        rng = np.random.default_rng([self.seed, 11])
        return float(rng.uniform(*WANTED_DRIVE)), int(rng.integers(1, 3)), int(rng.integers(SPOTS))

    @cached_property
    def places(self) -> Array:
        """Radial offset in mm, distance in mm and angle in degrees of the spots, shape (spots, 3)."""
        return np.round(np.random.default_rng([self.seed, 12]).uniform(NEAREST, REACH, size=(SPOTS, 3)))

    @cached_property
    def parts(self) -> dict[str, Array]:
        """Noiseless match, goal and articulation kept, each of shape (gains, stages, spots, orders)."""
        rng = np.random.default_rng([self.seed, 13])
        gain, stage, spot = self.wanted
        below, above = rng.uniform(*STAGE_SHIFT, size=2)
        shifts = np.array([-below, 0.0, above])
        drive = np.linspace(0.0, 1.0, GRID)[:, None] + shifts
        wanted = gain + shifts[stage]
        tame = 1.0 - drive if self.rules == "upside down" else drive
        edge = (1.0 - wanted if self.rules == "upside down" else wanted) - rng.uniform(*CLIFF_BEFORE)
        width = rng.uniform(*CLIFF_WIDTH)
        cliff = rng.uniform(*CLIFF_FALL) / (1.0 + np.exp(-(tame - edge) / width)) + 10.0 * np.maximum(tame, 0.0)
        own = rng.normal(size=SPOTS)
        near = np.linalg.norm((self.places - self.places[spot]) / REACH, axis=1)
        order = _order_part(rng) * rng.uniform(*ORDER_MATCH_SD)
        match = 90.0 - cliff[:, :, None, None] + (SPOT_MATCH_SD * own)[:, None] + order
        goal = 92.0 - (rng.uniform(*GOAL_FALL) * np.abs(drive - wanted) ** 1.5)[:, :, None, None]
        goal = goal - (SPOT_GOAL_SD * near)[:, None] + 0.3 * order
        kept = 1.0 - rng.uniform(*ARTICULATION_FALL) * np.clip(tame, 0.0, 1.2)[:, :, None, None]
        return {
            "match": np.clip(match, 3.0, 99.0),
            "goal": np.clip(goal, 3.0, 99.0),
            "articulation_kept": np.broadcast_to(np.clip(kept, 0.05, 1.0), goal.shape),
        }

    def trial(self, settings: Mapping[str, Any], seed: int) -> Trial:
        """One trial with its noise."""
        rng = np.random.default_rng(seed)
        match, goal, kept = (self._part(name, settings) + NOISE[name] * rng.normal() for name in NOISE)
        return Trial(
            dict(settings),
            match=float(np.clip(match, 0.0, 100.0)),
            goal=float(np.clip(goal, 0.0, 100.0)),
            articulation_kept=float(np.clip(kept, 0.0, 1.0)),
        )

    def value(self, settings: Mapping[str, Any]) -> float:
        """The noiseless overall score."""
        match, goal, kept = (self._part(name, settings) for name in NOISE)
        return float(_overall(np.array(match), np.array(goal), np.array(kept)))

    def _part(self, name: str, settings: Mapping[str, Any]) -> float:
        order = list(permutations(RIFFS[:4])).index(tuple(settings["riffs"]))
        curve = self.parts[name][:, STAGES.index(settings["stage"]), int(settings["mic"][-1]) - 1, order]
        hours = LOW_HOURS + np.linspace(0.0, 1.0, GRID) * (HIGH_HOURS - LOW_HOURS)
        return float(np.interp(settings["gain"], hours, curve))

    def sheet(self) -> StudySheet:
        """Its study sheet, with the wanted tone's settings as they are told."""
        gain, stage, spot = self.wanted
        if self.rules == "misled":
            rng = np.random.default_rng([self.seed, 14])
            gain, stage, spot = float(rng.uniform()), int(rng.integers(3)), int(rng.integers(SPOTS))
        riffs = ", ".join(f'"{riff}"' for riff in RIFFS[:4])
        return load_sheet(
            f"""
            [study]
            name = "parts-{self.seed}"
            trials_planned = 30
            [goal]
            gain = {LOW_HOURS + gain * (HIGH_HOURS - LOW_HOURS):.4f}
            stage = "{STAGES[stage]}"
            mic = "spot {spot + 1}"
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
            {spots_in_toml(self.places)}
            [settings.riffs]
            kind = "riff order"
            riffs = [{riffs}]
            [overall]
            match = {WEIGHTS["match"]}
            goal = {WEIGHTS["goal"]}
            articulation = {WEIGHTS["articulation"]}
            """
        )

    @property
    def family(self) -> str:
        """What this kind of space is called in the results."""
        return "parts4" if self.rules == "right" else f"parts4-{self.rules.replace(' ', '-')}"

    def problem(self) -> Problem:
        """It as a problem with a known answer."""
        total = _overall(*(self.parts[name] for name in NOISE))
        name = f"{self.family}-{self.seed}"
        return Problem(name, self.sheet(), self.value, self.trial, float(total.max()), float(total.mean()))


def _overall(match: Array, goal: Array, kept: Array) -> Array:
    """The overall score of design: a weighted geometric mean of desirabilities [Derringer1980]."""
    logs = [
        WEIGHTS["match"] * np.log(match / 100.0),
        WEIGHTS["goal"] * np.log(goal / 100.0),
        WEIGHTS["articulation"] * np.log(kept),
    ]
    return np.asarray(100.0 * np.exp(sum(logs) / sum(WEIGHTS.values())))


def _order_part(rng: np.random.Generator) -> Array:
    """What each order of four riffs brings by which riff comes before which, mean 0 and sd 1, shape (24,)."""
    strength = {pair: rng.normal() for pair in combinations(range(4), 2)}
    orders = permutations(range(4))
    part = np.array([sum(strength[p] * (o.index(p[0]) < o.index(p[1])) for p in strength) for o in orders])
    return np.asarray((part - part.mean()) / part.std())
