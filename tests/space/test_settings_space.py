"""What a user can rely on when values are read, printed, banned and drawn."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.errors import InvalidSettings, NothingLeft
from optimiser.space import (
    Between,
    Choice,
    Knob,
    MicPlace,
    MicSpot,
    OneOf,
    OrderEnds,
    RiffOrder,
    Rule,
    Setting,
    SettingsSpace,
    Spot,
    Stage,
)

GAIN = Knob(name="gain", effort_minutes=0.2, scale="clock", low=8.0, high=17.0, tolerance=1 / 12)
BLEND = Knob(
    name="blend",
    effort_minutes=0.2,
    scale="number",
    unit="dB",
    low=-12.0,
    high=0.0,
    tolerance=0.5,
    only_when=Rule((("cabinet", OneOf(("A and B",))),)),
)
STAGE = Stage(name="stage", effort_minutes=0.2, steps=("open", "pushed", "full"))
MIC = MicSpot(
    name="mic",
    effort_minutes=1.5,
    spots=(Spot("cap", (0.0, 25.0, 0.0)), Spot("cap edge", (22.0, 25.0, 0.0)), Spot("rim", (90.0, 40.0, 30.0))),
)
ROOM_MIC = MicPlace(name="room", effort_minutes=2.0, ranges=((0.0, 100.0), (100.0, 900.0), (0.0, 60.0)), tolerance=5.0)
RIFFS = RiffOrder(name="riffs", effort_minutes=0.3, riffs=("chugs", "held chord", "run", "two-note"), use=3)
CABINET = Choice(name="cabinet", effort_minutes=1.0, options=("A", "B", "A and B"))
SPACE = SettingsSpace(
    (GAIN, STAGE, MIC, ROOM_MIC, RIFFS, CABINET, BLEND),
    (Rule((("stage", OneOf(("full",))), ("gain", Between(above=15.0)))), Rule((("riffs", OrderEnds(first=("run",))),))),
)
EXAMPLE = {
    "gain": "1:30",
    "stage": "Pushed",
    "mic": "cap edge",
    "room.radial_mm": 20,
    "room.distance_mm": "400",
    "room.angle_deg": 0,
    "riffs": "chugs, run, two-note",
    "cabinet": "a and b",
    "blend": "-3 dB",
}

rngs = st.integers(0, 2**32 - 1).map(np.random.default_rng)
settings_of_a_chain = st.sampled_from(SPACE.settings)


def test_text_of_every_kind_is_read() -> None:
    assert SPACE.parse(EXAMPLE) == {
        "gain": 13.5,
        "stage": "pushed",
        "mic": "cap edge",
        "room": {"radial_mm": 20.0, "distance_mm": 400.0, "angle_deg": 0.0},
        "riffs": ["chugs", "run", "two-note"],
        "cabinet": "A and B",
        "blend": -3.0,
    }


@given(setting=settings_of_a_chain, rng=rngs)
def test_printing_then_reading_a_value_is_the_identity(setting: Setting, rng: np.random.Generator) -> None:
    value = setting.sample(rng)
    assert setting.parse(setting.write(value)) == value
    assert setting.parse(value) == value


@given(hours=st.floats(7.0, 17.0))
def test_any_time_on_the_dial_survives_printing(hours: float) -> None:
    assert GAIN.parse(GAIN.write(hours)) == hours


@given(setting=settings_of_a_chain, rng=rngs)
def test_drawn_and_neighbouring_values_lie_in_range_and_can_be_set(setting: Setting, rng: np.random.Generator) -> None:
    value = setting.sample(rng)
    for near in (value, *setting.neighbours(value)):
        assert setting.contains(near)
        assert setting.nearest(near) == near
    assert value not in setting.neighbours(value)


@given(rng=rngs)
def test_a_drawn_arrangement_may_be_proposed(rng: np.random.Generator) -> None:
    settings = SPACE.sample(rng)
    assert SPACE.allows(settings)
    assert ("blend" in settings) == (settings["cabinet"] == "A and B")
    assert SPACE.parse(SPACE.write(settings)) == settings


@given(rng=rngs)
def test_locked_settings_are_kept(rng: np.random.Generator) -> None:
    settings = SPACE.sample(rng, {"gain": 9.5, "stage": "full"})
    assert (settings["gain"], settings["stage"]) == (9.5, "full")


def test_all_faults_of_an_arrangement_are_named_at_once() -> None:
    with pytest.raises(InvalidSettings) as caught:
        SPACE.parse({**EXAMPLE, "gain": "25:00", "cabinet": "A", "stagge": "open", "riffs": "run,run,chugs"})
    assert {fault.key for fault in caught.value.faults} == {"gain", "blend", "stagge", "riffs"}
    assert all(fault.mend for fault in caught.value.faults)


def test_what_is_missing_is_told_with_what_may_be_given_and_how() -> None:
    with pytest.raises(InvalidSettings) as caught:
        SPACE.parse({"cabinet": "A and B"})
    assert str(caught.value).splitlines() == [
        "gain is missing, expected a clock time from 8:00 round to 5:00; add for example --set gain=12:30.",
        "stage is missing, expected one of open, pushed, full; add for example --set stage=open.",
        "mic is missing, expected one of cap, cap edge, rim; add for example --set mic=cap.",
        "room is missing, expected a place, radial_mm 0 to 100, distance_mm 100 to 900, angle_deg 0 to 60; "
        "add for example --set room=50,500,30.",
        "riffs is missing, expected an order of 3 of chugs, held chord, run, two-note; "
        'add for example --set "riffs=chugs,held chord,run".',
        "blend is missing, expected a number from -12 dB to 0 dB; add for example --set blend=-6.",
    ]


def test_what_is_given_as_examples_is_taken() -> None:
    with pytest.raises(InvalidSettings) as caught:
        SPACE.parse({})
    words = [fault.mend.removeprefix("add for example --set ").strip('"') for fault in caught.value.faults]
    settings = SPACE.parse(dict(word.split("=") for word in words))
    assert SPACE.outside(settings) == ()


def test_what_was_really_set_may_lie_outside_the_sheet_and_is_marked() -> None:
    settings = SPACE.parse({**EXAMPLE, "gain": "7:30", "mic": "35,25,10", "riffs": "chugs,run", "blend": -20})
    assert SPACE.outside(settings) == ("gain", "mic", "riffs", "blend")
    assert not SPACE.allows(settings)


def test_a_forbidden_arrangement_is_marked_and_not_proposed() -> None:
    settings = SPACE.parse({**EXAMPLE, "stage": "full", "gain": "4:00"})
    assert SPACE.outside(settings) == ("never",)
    assert not SPACE.allows(settings)


def test_locks_that_leave_nothing_say_so() -> None:
    with pytest.raises(NothingLeft):
        SPACE.sample(np.random.default_rng(1), {"stage": "full", "gain": 16.0})


@pytest.mark.parametrize("raw", [True, None, float("nan"), float("inf"), "nan", "1e999", "six", [], {}, "1:75", 3])
def test_values_that_are_no_clock_time_are_refused(raw: object) -> None:
    with pytest.raises(InvalidSettings):
        SPACE.parse_some({"gain": raw})


@given(
    raw=st.dictionaries(st.text(max_size=6), st.none() | st.booleans() | st.floats() | st.text() | st.lists(st.text()))
)
def test_anything_handed_in_is_read_or_refused_with_a_reason(raw: dict[str, object]) -> None:
    with pytest.raises(InvalidSettings):
        SPACE.parse(raw)
    for name in SPACE.by_name:
        for entry in raw.values():
            try:
                SPACE.parse_some({name: entry})
            except InvalidSettings as refusal:
                assert refusal.faults
