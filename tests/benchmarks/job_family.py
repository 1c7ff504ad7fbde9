"""A seeded family of synthetic spaces with the shape of the job: gain with a cliff, stage, spots, riff order, noise.

A value is 75 plus four parts, each scaled to a standard deviation over random settings that is drawn from the ranges
below, plus an interaction. Everything about one member follows from its seed. Seeds from 1000 on are the tuning draw,
seeds from 2000 on a first reporting draw: no figure was ever fitted to it, though two ideas were tried on the tuning
draw because of what it had shown; seeds from 2100 on are a second one that nobody had looked at before
(studies/proposals-benchmark). Seeds from 3000 on sober the outlook's chance, those from 4000 on check it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, pairwise, permutations, product
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import interpn

from optimiser.space import AXES
from optimiser.study import StudySheet, load_sheet
from tests.benchmarks.problems import Problem, with_noise

Array = NDArray[np.float64]

TUNING_SEEDS: Final = range(1000, 1070)
FIRST_REPORTING_SEEDS: Final = range(2000, 2020)
REPORTING_SEEDS: Final = range(2100, 2120)
SOBERING_SEEDS: Final = range(3000, 3184)
OUTLOOK_SEEDS: Final = range(4000, 4400)

GAIN_SD: Final = (6.0, 10.0)
"""Points: what gain and stage together bring, over random settings."""

SPOT_SD: Final = (3.0, 6.0)
STAGE_SD: Final = (1.0, 3.0)
ORDER_SD: Final = (2.0, 4.0)
INTERACTION_SD: Final = {"usual": (1.0, 3.0), "weak": (0.2, 0.6), "strong": (4.0, 6.0)}
"""Points: what no setting brings alone, by how strongly settings act together."""

NOISE_SD: Final = (0.5, 1.5)
"""Points: between repeats."""

BEST_DRIVE: Final = (0.35, 0.6)
"""Share of the gain knob's range at which the middle stage is best."""

STAGE_SHIFT: Final = (0.08, 0.25)
"""Share of the gain knob's range by which one step of the stage moves the cliff, each step drawn on its own."""

CLIFF_WIDTH: Final = (0.02, 0.06)
"""Share of the range over which the cliff falls."""

RIFFS: Final = ("chugs", "held chord", "run", "two-note", "slide")
STAGES: Final = ("open", "pushed", "full")
LOW_HOURS: Final = 8.0
HIGH_HOURS: Final = 17.0
GRID: Final = 109
"""Gain settings: one for each five minutes of the dial."""

TRIAL_MINUTES: Final = 3.0
MOVE_MINUTES: Final = 6.0
SPOTS: Final = 6
REACH: Final = (90.0, 150.0, 50.0)
"""Radial offset in mm, distance in mm and angle in degrees of the farthest place."""

NEAREST: Final = (0.0, 10.0, 0.0)
LATTICE: Final = (10, 8, 6)
"""Places of a free mic at which values are laid down; between them they are linear."""


@dataclass(frozen=True)
class JobSpace:
    """One member of the family.

    Attributes:
        seed: everything follows from it.
        riffs: how many riffs are put in order, 4 or 5.
        orders: what matters about the order: `precedence` (which riff comes before which), `neighbours` (which riff
            directly follows which) or `none`.
        interactions: how strongly settings act together: `usual`, `weak` or `strong`.
        free_mic: whether the mic may stand anywhere instead of at six spots.
        upside_down: whether gain and stage act the wrong way round, with the cliff towards less of both.
        costly_mic: whether a trial takes three minutes and moving the mic six more.
    """

    seed: int
    riffs: int = 4
    orders: str = "precedence"
    interactions: str = "usual"
    free_mic: bool = False
    upside_down: bool = False
    costly_mic: bool = False

    @cached_property
    def places(self) -> Array:
        """Radial offset in mm, distance in mm and angle in degrees of the spots or the lattice, shape (places, 3)."""
        if self.free_mic:
            return np.array(list(product(*self._lattice)))
        rng = np.random.default_rng([self.seed, 1])
        return np.round(rng.uniform(NEAREST, REACH, size=(SPOTS, 3)))

    @cached_property
    def _lattice(self) -> tuple[Array, ...]:
        return tuple(np.linspace(*span) for span in zip(NEAREST, REACH, LATTICE, strict=True))

    @cached_property
    def tables(self) -> tuple[Array, Array]:
        """Noiseless values, shape (gains, stages, places, orders), and the gain grid as hours."""
        rng = np.random.default_rng([self.seed, 2])
        gains = np.linspace(0.0, 1.0, GRID)
        drive = _drive_part(rng, gains)[:, :, None, None]
        stage = rng.normal(size=3)[None, :, None, None]
        spot = (_place_part if self.free_mic else _spot_part)(rng, self.places)[None, None, :, None]
        order = _order_part(rng, self.riffs, self.orders)[None, None, None, :]
        likings = _smooth_likings(rng, self.places) if self.free_mic else _likings(rng, SPOTS)
        mixed = _interaction(gains, likings, rng.normal(size=3), order.ravel())
        together = INTERACTION_SD[self.interactions]
        parts = [(drive, GAIN_SD), (stage, STAGE_SD), (spot, SPOT_SD), (order, ORDER_SD), (mixed, together)]
        total = np.asarray(sum(_scaled(part, rng.uniform(*span)) for part, span in parts))
        total = total[::-1, ::-1] if self.upside_down else total
        return 75.0 + total, LOW_HOURS + gains * (HIGH_HOURS - LOW_HOURS)

    @property
    def noise_sd(self) -> float:
        """Points between repeats."""
        return float(np.random.default_rng([self.seed, 3]).uniform(*NOISE_SD))

    def value(self, settings: Mapping[str, Any]) -> float:
        """The noiseless value of an arrangement."""
        table, hours = self.tables
        order = _orders(self.riffs).index(tuple(RIFFS.index(riff) for riff in settings["riffs"]))
        table = table[:, STAGES.index(settings["stage"]), :, order]
        if not self.free_mic:
            return float(np.interp(settings["gain"], hours, table[:, int(settings["mic"][-1]) - 1]))
        grid = (hours, *self._lattice)
        place = [settings["gain"], *(settings["mic"][axis] for axis in AXES)]
        return float(interpn(grid, table.reshape([len(numbers) for numbers in grid]), place, method="linear")[0])

    def sheet(self) -> StudySheet:
        """Its study sheet."""
        riffs = ", ".join(f'"{riff}"' for riff in RIFFS[: self.riffs])
        return load_sheet(
            f"""
            [study]
            name = "job-{self.seed}"
            trials_planned = 30
            minutes_per_trial = {TRIAL_MINUTES if self.costly_mic else 5.0}
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
            {f"effort_minutes = {MOVE_MINUTES}" if self.costly_mic else ""}
            {self._mic()}
            [settings.riffs]
            kind = "riff order"
            riffs = [{riffs}]
            """
        )

    def _mic(self) -> str:
        if self.free_mic:
            spans = zip(AXES, NEAREST, REACH, strict=True)
            return "\n".join(["free = true", *(f"{axis} = [{low}, {high}]" for axis, low, high in spans)])
        return spots_in_toml(self.places)

    @property
    def family(self) -> str:
        """What this kind of space is called in the results."""
        marks = {
            self.orders: self.orders != "precedence",
            self.interactions: self.interactions != "usual",
            "free-mic": self.free_mic,
            "upside-down": self.upside_down,
            "costly-mic": self.costly_mic,
        }
        return "-".join([f"job{self.riffs}", *(mark for mark, given in marks.items() if given)])

    def problem(self) -> Problem:
        """It as a problem with a known answer."""
        table, _ = self.tables
        name = f"{self.family}-{self.seed}"
        trial = with_noise(self.value, self.noise_sd)
        return Problem(name, self.sheet(), self.value, trial, float(table.max()), self._mean())

    def _mean(self) -> float:
        """Mean over random settings: of a free mic the ends of each range count half."""
        table = self.tables[0].mean(axis=(0, 1, 3))
        if not self.free_mic:
            return float(table.mean())
        for count in LATTICE:
            table = np.reshape(table, (count, -1))
            table = (0.5 * (table[1:] + table[:-1])).mean(axis=0)
        return float(table[0])


def spots_in_toml(places: Array) -> str:
    """The line of a sheet that names spots at places (spots, 3)."""
    spots = ", ".join(
        f'{{ name = "spot {number}", radial_mm = {place[0]}, distance_mm = {place[1]}, angle_deg = {place[2]} }}'
        for number, place in enumerate(places.tolist(), start=1)
    )
    return f"spots = [{spots}]"


def _orders(riffs: int) -> list[tuple[int, ...]]:
    return list(permutations(range(riffs)))


def _scaled(part: Array, sd: float) -> Array:
    spread = float(part.std())
    return (part - part.mean()) * (sd / spread) if spread > 0 else 0.0 * part


def _drive_part(rng: np.random.Generator, gains: Array) -> Array:
    """Slowly better with more gain up to a cliff that comes earlier at higher stages, shape (gains, stages)."""
    best = rng.uniform(*BEST_DRIVE)
    below, above = rng.uniform(*STAGE_SHIFT, size=2)
    drive = gains[:, None] + np.array([-below, 0.0, above])
    rise = -(((best - drive) / rng.uniform(0.3, 0.6)) ** 2)
    width = rng.uniform(*CLIFF_WIDTH)
    fall = -rng.uniform(1.0, 2.0) / (1.0 + np.exp(-(drive - best - 3.0 * width) / width))
    slope = -rng.uniform(0.0, 1.0) * np.maximum(drive - best, 0.0)
    return np.asarray(np.where(drive < best, rise, 0.0) + fall + slope)


def _spot_part(rng: np.random.Generator, places: Array) -> Array:
    """A preferred place that fades smoothly with distance, plus each spot's own character, shape (6,)."""
    scaled = places / np.array([90.0, 150.0, 50.0])
    favourite = rng.uniform(size=3)
    smooth = -((scaled - favourite) ** 2 / rng.uniform(0.3, 0.8, size=3) ** 2).sum(axis=1)
    return _scaled(smooth, 1.0) + rng.uniform(0.2, 0.6) * rng.normal(size=len(places))


def _order_part(rng: np.random.Generator, riffs: int, kind: str) -> Array:
    """What each order brings, shape (orders,)."""
    orders = _orders(riffs)
    strength = rng.normal(size=(riffs, riffs))
    if kind == "precedence":
        pairs = list(combinations(range(riffs), 2))
        turns = np.array([[1.0 if order.index(a) < order.index(b) else -1.0 for a, b in pairs] for order in orders])
        return np.asarray(turns @ np.array([strength[a, b] for a, b in pairs]))
    if kind == "neighbours":
        return np.array([sum(strength[a, b] for a, b in pairwise(order)) for order in orders])
    return np.zeros(len(orders))


def _place_part(rng: np.random.Generator, places: Array) -> Array:
    """A preferred place that fades smoothly, and a second one that is nearly as good, shape (places,)."""
    scaled = (places - np.array(NEAREST)) / (np.array(REACH) - np.array(NEAREST))
    heights = (1.0, rng.uniform(0.5, 0.9))
    tops, widths = rng.uniform(size=(2, 3)), rng.uniform(0.3, 0.8, size=(2, 3))
    hills = [
        height * np.exp(-((scaled - top) ** 2 / width**2).sum(axis=1))
        for height, top, width in zip(heights, tops, widths, strict=True)
    ]
    return np.asarray(np.max(hills, axis=0))


def _likings(rng: np.random.Generator, spots: int) -> tuple[Array, Array]:
    """How much each spot likes gain, (spots,), and each stage, (3, spots), each drawn on its own."""
    return rng.normal(size=spots), rng.normal(size=(3, spots))


def _smooth_likings(rng: np.random.Generator, places: Array) -> tuple[Array, Array]:
    """The same where they change evenly over a plane of places."""
    centred = places / np.array(REACH) - 0.5
    return 2.0 * centred @ rng.normal(size=3), 2.0 * rng.normal(size=(3, 3)) @ centred.T


def _interaction(gains: Array, likings: tuple[Array, Array], of_stages: Array, order: Array) -> Array:
    """Places that like more or less gain, stages that like some places and orders more, shape of the whole table."""
    by_gain = (gains[:, None] - 0.5)[:, None, :, None] * likings[0][None, None, :, None]
    by_stage = likings[1][None, :, :, None] * 0.3
    by_order = of_stages[None, :, None, None] * order[None, None, None, :] * 0.3
    return np.asarray(by_gain + by_stage + by_order)
