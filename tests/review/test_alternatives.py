"""What figures say of mic spots and riff orders never speaks against what is to be kept."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from optimiser.proposals import Recommendation
from optimiser.review import Standing
from optimiser.review.orders import orders
from optimiser.review.ranking import Alternative, foremost
from optimiser.review.spots import spots
from optimiser.space import RiffOrder, Settings
from optimiser.study import StudyState, load_sheet

SHEET = """
[study]
name = "made-up"

[settings.mic]
kind = "mic"
spots = ["cap edge", "turned", "rim"]

[settings.riffs]
kind = "riff order"
riffs = ["chugs", "run"]
"""


class Belief:
    """Means and errors of three spots; chugs before run brings three points."""

    def __init__(self, **spots: tuple[float, float]) -> None:
        self.spots = spots

    def told(self, many: Sequence[Settings]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        known = np.array([self.spots[str(settings["mic"]).replace(" ", "_")] for settings in many])
        early = np.array([3.0 * (settings["riffs"] == ["chugs", "run"]) for settings in many])
        return known[:, 0] + early, known[:, 1]

    def draws(self, many: Sequence[Settings], n: int, seed: int) -> NDArray[np.float64]:
        mean, _ = self.told(many)
        return mean + np.random.default_rng(seed).normal(0.0, 0.1, (n, len(many)))


def standing(kept: Settings, **spots: tuple[float, float]) -> Standing:
    return Standing(StudyState(load_sheet(SHEET)), Belief(**spots), Recommendation(kept, 60.0, 1.0, None))


def title(view_of: Standing, name: str) -> str:
    setting = view_of.space.by_name[name]
    view = orders(view_of, setting) if isinstance(setting, RiffOrder) else spots(view_of, setting, name)
    return " ".join(view.figure.get_suptitle().split())


@pytest.mark.parametrize(
    ("turned", "said"),
    [
        ((58.0, 1.0), "mic: cap edge is predicted highest; to keep: turned, which is surer"),
        (
            (58.0, 9.0),
            "mic: cap edge is predicted highest; to keep: turned",
        ),
        ((61.0, 1.0), "mic: turned leads cap edge by 1.0 points, but not for sure"),
        ((75.0, 1.0), "mic: turned is best, 15.0 points ahead of cap edge"),
    ],
)
def test_the_spot_to_keep_is_named_whichever_leads(turned: tuple[float, float], said: str) -> None:
    kept: Settings = {"mic": "turned", "riffs": ["chugs", "run"]}
    assert title(standing(kept, cap_edge=(60.0, 5.0), turned=turned, rim=(40.0, 5.0)), "mic") == said


def test_a_precedence_that_the_order_to_keep_lacks_is_no_advice() -> None:
    spots = {"cap_edge": (60.0, 5.0), "turned": (58.0, 1.0), "rim": (40.0, 5.0)}
    kept: Settings = {"mic": "turned", "riffs": ["chugs", "run"]}
    assert title(standing(kept, **spots), "riffs") == "Play chugs before run: worth 3.0 points"
    other = title(standing({**kept, "riffs": ["run", "chugs"]}, **spots), "riffs")
    assert other == "chugs before run is worth 3.0 points on average, though the order to keep has run first"


def test_what_is_kept_is_shown_however_low_it_ranks() -> None:
    ranked = [Alternative(str(place), 60.0 - place, 1.0, 0) for place in range(20)]
    assert foremost(ranked, 12) == ranked[:12]
    ranked[15] = replace(ranked[15], kept=True)
    assert foremost(ranked, 12) == [*ranked[:11], ranked[15]]
