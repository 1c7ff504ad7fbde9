"""A made-up hunt on a made-up combo: what the true score would be is written down here and nowhere in the package."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
import pytest
from numpy.typing import NDArray

from optimiser.proposals import Outlook, Recommendation
from optimiser.review import OutlookThen, Standing, View, standing_of, views_of
from optimiser.review.shares import shares_of
from optimiser.space import Settings
from optimiser.study import Study, StudySheet, StudyState, Trial, load_sheet

SHEET = """
[study]
name = "made-up-combo"
title = "Made-up combo, lead channel"
timezone = "Europe/Lisbon"
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
spots = [
  { name = "cap centre", radial_mm = 0, distance_mm = 20, angle_deg = 0 },
  { name = "cap edge", radial_mm = 24, distance_mm = 25, angle_deg = 0 },
  { name = "cap edge turned", radial_mm = 24, distance_mm = 26, angle_deg = 30 },
  { name = "half way", radial_mm = 60, distance_mm = 30, angle_deg = 0 },
  { name = "rim", radial_mm = 110, distance_mm = 25, angle_deg = 0 },
  { name = "a hand away", radial_mm = 30, distance_mm = 140, angle_deg = 0 },
]

[settings.riffs]
kind = "riff order"
riffs = ["chugs", "held chord", "run", "two-note"]

[[never]]
stage = ["full"]
gain = { above = "16:00" }

[reading]
name = "device reading"
wanted = [6, 8]
redo_below = 5
"""

KINDS = ("first design",) * 5 + ("search",) * 40
MICS = {"cap centre": -4.0, "cap edge": 3.0, "cap edge turned": 2.0, "half way": 1.0, "rim": -6.0, "a hand away": -2.0}


def true_score(settings: Settings) -> float:
    """Points: falls off a cliff when gain and stage together drive too hard; the rest adds a little."""
    drive = (cast(float, settings["gain"]) - 8.0) / 9.0 + 0.3 * ("open", "pushed", "full").index(str(settings["stage"]))
    order = cast(list[str], settings["riffs"])
    early = 2.0 if order.index("chugs") < order.index("run") else -2.0
    return (
        74.0
        - 26.0 / (1.0 + math.exp(-12.0 * (drive - 0.75)))
        - 14.0 * (drive - 0.45) ** 2
        + MICS[str(settings["mic"])]
        + early
    )


def made_up_trials(sheet: StudySheet, count: int) -> tuple[Trial, ...]:
    """Trials that drift from anywhere towards what is good, over three days, with a take error of a point."""
    rng = np.random.default_rng(11)
    trials: list[Trial] = []
    best: Settings = {}
    for number in range(1, count + 1):
        drawn = sheet.space.sample(rng)
        settings = (
            drawn if number <= 5 else {**best, **{n: drawn[n] for n in rng.choice(list(drawn), 2, replace=False)}}
        )
        if not sheet.space.allows(settings):
            settings = drawn
        score = true_score(settings) + rng.normal(0.0, 1.0)
        if not best or score > max(t.overall or 0.0 for t in trials):
            best = settings
        trials.append(
            Trial(
                settings,
                overall=round(score, 2),
                overall_se=0.6,
                match=min(99.0, round(score + 4.0, 1)),
                match_se=0.8,
                articulation=60.0,
                articulation_kept=0.8,
                reading=round(max(0.0, min(10.0, score / 11.0)), 1),
                number=number,
                day=f"2026-03-0{1 + 3 * number // (count + 1)}",
            )
        )
    return tuple(trials)


def made_up_details(trials: tuple[Trial, ...]) -> dict[int, dict[str, object]]:
    rng = np.random.default_rng(5)
    names = ("tone", "dynamics", "attack", "residual", "texture", "decay", "noise")
    return {
        trial.number or 0: {
            "parts": [
                {
                    "name": name,
                    "value": 1.0,
                    "unit": "dB",
                    "step": 1.0,
                    "weight": 1.0,
                    "steps": round(float(rng.gamma(2)), 2),
                }
                for name in names
            ],
            "advice": ["The capture is duller than the amp: 2 dB less above 3 kHz <and rising>."],
            "warnings": [],
        }
        for trial in trials
    }


def made_up_state(count: int, *, loose_ends: bool = True) -> StudyState:
    sheet = load_sheet(SHEET)
    trials = made_up_trials(sheet, count)
    study = Study(sheet, trials)
    if loose_ends and count >= 6:
        rng = np.random.default_rng(3)
        study = study.with_trial(Trial(trials[2].settings, number=3, state="failed", day=trials[2].day))
        study = study.with_trial(Trial(trials[4].settings, number=5, state="void", overall=11.0, note="wrong <cable>"))
        study = study.with_trial(Trial(sheet.space.sample(rng), number=count + 1, state="waiting"))
        study = study.with_trial(Trial(sheet.space.sample(rng), number=count + 2, state="declined"))
    proposals = {number: {"trial": number, "kind": kind} for number, kind in enumerate(KINDS, start=1)}
    made = {trial.number or 0: trial for trial in study.trials}
    return StudyState(study.sheet, made, proposals=proposals, details=made_up_details(trials))


@dataclass(frozen=True)
class Known:
    """A belief that knows the score but for a doubt that is the same everywhere, or free of it."""

    score: Callable[[Settings], float]
    doubt: float = 1.0

    def told(self, many: Sequence[Settings]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return np.array([self.score(settings) for settings in many]), np.full(len(many), self.doubt)

    def draws(self, many: Sequence[Settings], n: int, seed: int) -> NDArray[np.float64]:
        rng = np.random.default_rng(seed)
        return self.told(many)[0] + self.doubt * rng.normal(size=(n, len(many)))


def known_standing(sheet_text: str, score: Callable[[Settings], float], count: int = 12) -> Standing:
    """A standing over any sheet, by a belief that knows `score`."""
    sheet = load_sheet(sheet_text)
    rng = np.random.default_rng(2)
    many = [sheet.space.sample(rng) for _ in range(count)]
    trials = tuple(Trial(one, overall=score(one), number=place) for place, one in enumerate(many, start=1))
    best = max(many, key=score)
    study = Study(sheet, trials)
    belief = Known(score)
    return Standing(
        StudyState(sheet, {trial.number or 0: trial for trial in trials}),
        belief=belief,
        recommendation=Recommendation(best, score(best), 1.0, trial=many.index(best) + 1),
        outlook=Outlook(2.0, 0.6, 1.0, "go on", 30.0),
        noise=1.0,
        outlooks=(OutlookThen(2, 9.0, 0.1), OutlookThen(count, 2.0, 0.6)),
        shares=shares_of(study, belief),
    )


@pytest.fixture(scope="session")
def hunts() -> Callable[..., Standing]:
    """Makes a standing over any sheet."""
    return known_standing


@pytest.fixture(scope="session")
def long_views() -> dict[str, View]:
    """The figures of a hunt of 300 trials."""
    return views_of(known_standing(SHEET, true_score, 300))


@pytest.fixture(scope="session")
def states() -> Callable[..., StudyState]:
    """Makes the made-up study with any number of trials."""
    return made_up_state


@pytest.fixture(scope="session")
def state() -> StudyState:
    """A study of 16 trials with a failed, a struck-out, a waiting and a declined one."""
    return made_up_state(16)


@pytest.fixture(scope="session")
def standing(state: StudyState) -> Standing:
    """Where that study stands, by the belief that users get."""
    return standing_of(state)


@pytest.fixture(scope="session")
def views(standing: Standing) -> dict[str, View]:
    """Its figures."""
    return views_of(standing)
