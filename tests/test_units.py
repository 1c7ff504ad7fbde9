"""Clock faces and units against everyday meaning and published tables."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.units import (
    decibels_from_ratio,
    exposure_minutes,
    parse_clock,
    plus_minus,
    ratio_from_decibels,
    show_clock,
    show_minutes,
    show_number,
)


@pytest.mark.parametrize(
    ("text", "hours"), [("7:00", 7.0), ("9:15", 9.25), ("12:00", 12.0), ("1:30", 13.5), ("13:30", 13.5), ("5:00", 17.0)]
)
def test_clock_faces(text: str, hours: float) -> None:
    assert parse_clock(text) == hours


@pytest.mark.parametrize("text", ["5:01", "6:30", "18:00", "1.30", "", "noon", "9:60", "-9:00", "123:00"])
def test_times_that_no_knob_points_at_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"dial|clock"):
        parse_clock(text)


@given(st.integers(7 * 60, 17 * 60))
def test_every_minute_of_the_dial_is_said_and_read_alike(minutes: int) -> None:
    assert parse_clock(show_clock(minutes / 60)) == minutes / 60


@pytest.mark.parametrize(
    ("level_dba", "minutes"), [(85, 480), (88, 240), (91, 120), (94, 60), (97, 30), (100, 15), (103, 7.5)]
)
def test_exposure_follows_the_published_table(level_dba: float, minutes: float) -> None:
    """NIOSH publication 98-126, recommended limit."""
    assert exposure_minutes(level_dba) == pytest.approx(minutes)


@given(st.floats(-120, 120))
def test_decibels_there_and_back(decibels: float) -> None:
    assert decibels_from_ratio(ratio_from_decibels(decibels)) == pytest.approx(decibels, abs=1e-9)


def test_numbers_and_spans_as_people_say_them() -> None:
    assert [show_number(x) for x in (0.0, -3.0, 0.12345, 1234.5, 71.26)] == ["0", "-3", "0.123", "1234", "71.3"]
    assert [show_minutes(x) for x in (0.2, 5.0, 60.0, 125.0)] == ["12 s", "5 min", "1 h", "2 h 5 min"]


@pytest.mark.parametrize(
    ("score", "sd", "decimals", "said"),
    [
        (74.2, 2.0, 1, "74.2 +-3.3"),
        (96.0, 4.0, 1, "96.0 (89.4 to 100.0)"),
        (3.0, 4.0, 0, "3 (0 to 10)"),
        (100.0, 0.0, 1, "100.0 +-0.0"),
        (240.0, 10.0, 0, "240 +-16"),
    ],
)
def test_a_score_is_told_with_half_of_its_interval_or_with_ends_on_the_scale(
    score: float, sd: float, decimals: int, said: str
) -> None:
    """Half of a 90 % interval is 1.645 standard deviations (normal distribution); another scale has no known ends."""
    assert plus_minus(score, sd, decimals) == said
