"""What the surrogate is told of an arrangement."""

import numpy as np
from scipy.stats import kendalltau

from optimiser.space import (
    Choice,
    Knob,
    MicPlace,
    MicSpot,
    OneOf,
    RiffOrder,
    Rule,
    SettingsSpace,
    Spot,
    encode,
    encoding,
)

GAIN = Knob(name="gain", effort_minutes=0.2, scale="clock", low=8.0, high=16.0, tolerance=1 / 12)
MIC = MicSpot(name="mic", effort_minutes=1.5, spots=(Spot("cap", (0.0, 25.0, 0.0)), Spot("rim", (80.0, 25.0, 40.0))))
RIFFS = RiffOrder(name="riffs", effort_minutes=0.3, riffs=("a", "b", "c", "d", "e"), use=5)


def test_a_knob_runs_from_0_to_1_and_beyond_its_range_outside() -> None:
    rows = encode(SettingsSpace((GAIN,)), [{"gain": hours} for hours in (8.0, 12.0, 16.0, 17.0)])
    assert rows[:, 0].tolist() == [0.0, 0.5, 1.0, 1.125]


def test_a_spot_carries_its_index_and_scaled_coordinates() -> None:
    rows = encode(
        SettingsSpace((MIC,)), [{"mic": "rim"}, {"mic": {"radial_mm": 40.0, "distance_mm": 25.0, "angle_deg": 10.0}}]
    )
    assert rows.tolist() == [[1.0, 1.0, 0.0, 1.0], [-1.0, 0.5, 0.0, 0.25]]


def test_a_free_place_is_scaled_to_its_ranges() -> None:
    room = MicPlace(name="room", effort_minutes=2.0, ranges=((0.0, 100.0), (100.0, 300.0), (0.0, 0.0)))
    rows = encode(SettingsSpace((room,)), [{"room": {"radial_mm": 25.0, "distance_mm": 200.0, "angle_deg": 0.0}}])
    assert rows.tolist() == [[0.25, 0.5, 0.0]]


def test_options_carry_their_descriptors() -> None:
    cabinet = Choice(
        name="cabinet", effort_minutes=1, options=("A", "B"), descriptors=("inches",), described=((10.0,), (12.0,))
    )
    assert encode(SettingsSpace((cabinet,)), [{"cabinet": "B"}]).tolist() == [[1.0, 1.0]]


def test_positions_of_riffs_agree_with_kendalls_tau() -> None:
    """Discordant pairs counted from the encoded positions against scipy's tau (an independent library)."""
    rng = np.random.default_rng(5)
    orders = [RIFFS.sample(rng) for _ in range(20)]
    rows = encode(SettingsSpace((RIFFS,)), [{"riffs": order} for order in orders])
    pairs = np.triu_indices(5, 1)
    for one in rows:
        for two in rows:
            discordant = sum((one[i] - one[j]) * (two[i] - two[j]) < 0 for i, j in zip(*pairs, strict=True))
            assert np.isclose(kendalltau(one, two).statistic, 1 - 2 * discordant / 10)


def test_riffs_that_are_not_played_stand_together_at_the_end() -> None:
    assert RIFFS.positions(["d", "a"]) == (1, 2, 2, 0, 2)


def test_a_setting_that_does_not_exist_holds_nothing() -> None:
    cabinet = Choice(name="cabinet", effort_minutes=1, options=("A", "B"))
    blend = Knob(
        name="blend",
        effort_minutes=0,
        scale="number",
        low=-12.0,
        high=0.0,
        tolerance=1.0,
        only_when=Rule((("cabinet", OneOf(("B",))),)),
    )
    space = SettingsSpace((cabinet, blend))
    block = encoding(space)[1]
    assert block.active == 2
    assert encode(space, [{"cabinet": "A"}, {"cabinet": "B", "blend": -3.0}]).tolist() == [[0, 0, 0], [1, 0.75, 1]]
