"""The published best settings, measured as the product measures, without error of hands, days or files."""

from functools import cache
from typing import Final, cast

import numpy as np
import pytest
from numpy.typing import NDArray

from optimiser.audio import Reel, build_reel
from optimiser.rehearsal import BEST_OVERALL, BEST_SETTINGS, LEARNING_RIFFS, RATE_HZ, RehearsalAmp, play_riff
from optimiser.scoring import measure
from optimiser.space import Knob, Settings
from optimiser.study import Study, Trial

AMP: Final = RehearsalAmp()
REPEAT_SD: Final = 1.0
"""Points by which a result repeats, roughly; no setting may beat the best by more."""


@cache
def proof() -> Reel:
    return build_reel({name: play_riff(name) for name in LEARNING_RIFFS}, LEARNING_RIFFS, "proof", int(RATE_HZ))


@cache
def goal() -> NDArray[np.float64]:
    return AMP.goal_reference(proof().samples, seed=0, exact=True)


def exact_overall(settings: Settings) -> float:
    learning = [(name, play_riff(name)) for name in cast(list[str], settings["riffs"])]
    took = AMP.take(settings, learning, proof().samples, seed=0, exact=True)
    told = measure(took.reference, took.capture, int(RATE_HZ), layout=proof().layout, goal=goal())
    trial = Trial(settings, match=told.match, goal=told.goal, articulation_kept=told.articulation_kept)
    study = Study(AMP.sheet, (trial,))
    overall = study.overall(study.trials[0])
    assert overall is not None
    return overall[0]


def around_the_best() -> list[Settings]:
    """Half an hour of gain down and up, the two nearest spots, another stage, two orders a swap away."""
    best = dict(BEST_SETTINGS)
    gain = cast(float, best["gain"])
    by_name = AMP.sheet.space.by_name
    moves = {name: by_name[name].neighbours(best[name])[:2] for name in ("stage", "mic", "riffs")}
    gains = [cast(Knob, by_name["gain"]).nearest(gain + step) for step in (-0.5, 0.5)]
    return [{**best, "gain": gain} for gain in gains] + [
        {**best, name: value} for name, values in moves.items() for value in values
    ]


def test_best_settings_are_inside_the_sheet_and_not_at_the_end_of_the_gain() -> None:
    knob = cast(Knob, AMP.sheet.space.by_name["gain"])
    assert AMP.sheet.space.allows(dict(BEST_SETTINGS))
    assert knob.low + 1.0 < cast(float, BEST_SETTINGS["gain"]) < knob.high - 1.0


def test_best_settings_score_what_is_published() -> None:
    assert exact_overall(dict(BEST_SETTINGS)) == pytest.approx(BEST_OVERALL, abs=REPEAT_SD / 2.0)


def test_nothing_near_the_best_beats_it() -> None:
    assert max(exact_overall(settings) for settings in around_the_best()) <= BEST_OVERALL + REPEAT_SD


def test_no_fresh_settings_beat_the_best_and_most_are_far_below() -> None:
    """A fresh seed, so that none of these was among those surveyed."""
    rng = np.random.default_rng(4_711)
    found = [exact_overall(AMP.sheet.space.sample(rng)) for _ in range(8)]
    assert max(found) <= BEST_OVERALL + REPEAT_SD
    assert np.mean(found) < BEST_OVERALL - 15.0


@pytest.mark.by_hand
def test_no_settings_of_a_large_fresh_sample_beat_the_best() -> None:
    rng = np.random.default_rng(1_147)
    assert max(exact_overall(AMP.sheet.space.sample(rng)) for _ in range(200)) <= BEST_OVERALL + REPEAT_SD
