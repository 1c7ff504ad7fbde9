"""What mattered, by beliefs whose truth is known."""

from collections.abc import Callable, Sequence
from typing import cast

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import uniform

from optimiser.review import Standing, mattered
from optimiser.review.shares import NOT_KNOWN, shares_of, spread, verdict
from optimiser.space import Choice, Knob, RiffOrder, Settings
from optimiser.study import Study, StudyState, Trial, load_sheet

Array = NDArray[np.float64]

THREE_KNOBS = """
[study]
name = "three"
[settings.a]
kind = "knob"
scale = "number"
low = 0
high = 1
tolerance = 0.0001
[settings.b]
kind = "knob"
scale = "number"
low = 0
high = 1
tolerance = 0.0001
[settings.c]
kind = "choice"
options = ["x", "y"]
"""

BLEND = """
[study]
name = "blend"
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
"""


def number(settings: Settings, name: str) -> float:
    return cast(float, settings[name])


class Sure:
    """A belief without doubt."""

    def __init__(self, score: Callable[[Settings], float]) -> None:
        self.score = score

    def told(self, many: Sequence[Settings]) -> tuple[Array, Array]:
        return np.array([self.score(one) for one in many]), np.zeros(len(many))

    def draws(self, many: Sequence[Settings], n: int, seed: int) -> Array:
        del seed
        return np.tile(self.told(many)[0], (n, 1))


def tried(text: str, count: int = 12) -> Study:
    """A study with some trials; what they scored does not matter to a belief that is sure already."""
    sheet = load_sheet(text)
    rng = np.random.default_rng(0)
    return Study(sheet, tuple(Trial(sheet.space.sample(rng), overall=50.0) for _ in range(count)))


def test_shares_of_a_sum_are_its_variances() -> None:
    """Var(4a) : Var(3b) : Var(c) with evenly drawn a, b and a coin c, from scipy's own variances."""

    def score(settings: Settings) -> float:
        return 4 * number(settings, "a") + 3 * number(settings, "b") + (settings["c"] == "x")

    variances = np.array([uniform(0, 4).var(), uniform(0, 3).var(), 0.25])
    shares = {share.setting: share for share in shares_of(tried(THREE_KNOBS), Sure(score))}
    assert [shares[name].share for name in "abc"] == pytest.approx(variances / variances.sum(), abs=0.03)
    assert shares["a"].verdict == "matters"
    assert shares["c"].verdict == "matters little"


def test_a_setting_that_exists_under_a_condition_counts_where_it_exists() -> None:
    """By hand. The score is 6 at a blend of 0 dB, falling to 0 at -12 dB and where there is no blend.

    With u evenly 0..1: score = 6 u with chance 1/3, else 0. Mean 1; E score^2 = 36/9 = 4; variance 3. The cabinet alone
    explains (3-1)^2/3 + 2/3 = 2; blend alone explains Var(2u) = 1/3. Shapley: cabinet (2 + 3 - 1/3)/2 = 7/3, of 3: 7/9.
    """

    def score(settings: Settings) -> float:
        return (number(settings, "blend") + 12) / 2 if "blend" in settings else 0.0

    shares = {share.setting: share.share for share in shares_of(tried(BLEND), Sure(score))}
    assert shares["cabinet"] == pytest.approx(7 / 9, abs=0.04)
    assert sum(shares.values()) == pytest.approx(1.0)


def test_nothing_measured_nothing_known() -> None:
    shares = mattered(Study(load_sheet(THREE_KNOBS)))
    assert {share.setting for share in shares} == {"a", "b", "c"}
    assert all((share.low, share.high, share.verdict) == (0.0, 1.0, NOT_KNOWN) for share in shares)


def test_of_few_trials_nothing_is_known_however_sure_the_belief() -> None:
    belief = Sure(lambda settings: number(settings, "a"))
    assert {share.verdict for share in shares_of(tried(THREE_KNOBS, 6), belief)} == {NOT_KNOWN}
    assert shares_of(tried(THREE_KNOBS, 7), belief)[0].verdict == "matters"


def test_a_single_setting_is_owed_everything() -> None:
    sheet = load_sheet('[study]\nname = "one"\n[settings.c]\nkind = "choice"\noptions = ["x", "y"]\n')
    (share,) = shares_of(Study(sheet), Sure(lambda settings: float(settings["c"] == "x")))
    assert (share.share, share.verdict) == (1.0, "matters")


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (0.3, 0.9, "matters"),
        (0.0, 0.2, "matters little"),
        (0.15, 0.35, "matters its part"),
        (0.05, 0.7, NOT_KNOWN),
    ],
)
def test_verdicts_against_an_even_part_of_a_quarter(low: float, high: float, said: str) -> None:
    assert verdict(low, high, 4) == said


def test_the_same_study_gives_the_same_shares(state: StudyState, standing: Standing) -> None:
    assert mattered(state.study) == standing.shares


def test_shares_add_up_lie_in_their_intervals_and_come_sorted(standing: Standing) -> None:
    assert sum(share.share for share in standing.shares) == pytest.approx(1.0)
    assert all(0 <= share.low <= share.share <= share.high <= 1 for share in standing.shares)
    parts = [share.share for share in standing.shares]
    assert parts == sorted(parts, reverse=True)


def test_more_trials_make_it_known_that_gain_matters(states: Callable[..., StudyState]) -> None:
    """The made-up cliff lies along gain, so it comes out on top once there is evidence everywhere."""
    few, many = (mattered(states(count, loose_ends=False).study) for count in (5, 40))
    assert many[0].setting == "gain"
    assert many[0].verdict == "matters"
    assert many[0].high - many[0].low < max(share.high - share.low for share in few)


def test_values_follow_even_numbers() -> None:
    rng = np.random.default_rng(0)
    tenths = np.arange(0.05, 1.0, 0.1)
    knob = Knob(name="k", effort_minutes=0, scale="number", low=0, high=10, tolerance=0.001)
    assert spread(knob, tenths, rng) == pytest.approx(10 * tenths)
    choice = Choice(name="c", effort_minutes=0, options=("x", "y"))
    assert spread(choice, tenths, rng) == ["x"] * 5 + ["y"] * 5
    order = RiffOrder(name="r", effort_minutes=0, riffs=tuple("abcdefgh"), use=8)
    assert all(order.contains(value) for value in spread(order, tenths, rng))
