"""The page from which a chain is set up again: every value as people say it, and nothing from outside."""

import math
import re
from html.parser import HTMLParser

import pytest

from optimiser.errors import NotFound
from optimiser.review import recall_sheet
from optimiser.review.recall_sheet import dial
from optimiser.study import Event, StudyState, fold, load_sheet, sheet_to_tables

SHEET = """
[study]
name = "club-amp"
title = "Club <amp> & cab"

[settings.gain]
kind = "knob"
scale = "clock"
low = "8:00"
high = "17:00"

[settings.blend]
kind = "knob"
scale = "number"
unit = "dB"
low = -12
high = 0

[settings.mic]
kind = "mic"
spots = [
    { name = "cap edge", radial_mm = 22, distance_mm = 25, angle_deg = 0, note = "the dark one" },
    { name = "rim", radial_mm = 90, distance_mm = 25, angle_deg = 0 },
]

[settings.riffs]
kind = "riff order"
riffs = ["chugs", "run"]

[reading]

[fixed]
preamp = "clean, 38 dB"
"""
SETTINGS = {"gain": 13.5, "blend": -3.0, "mic": "cap edge", "riffs": ["run", "chugs"]}


@pytest.fixture
def state() -> StudyState:
    trial = {
        "trial": 1,
        "settings": SETTINGS,
        "match": 81.24,
        "reading": 6.5,
        "day": "2026-03-02",
        "note": "<b>warm</b>",
    }
    at = "2026-03-02T10:00:00+00:00"
    started = Event("started", {"sheet": sheet_to_tables(load_sheet(SHEET))}, at)
    return fold([started, Event("measured", {"trial": trial, "asked": None, "details": {}}, at)])


class Words(HTMLParser):
    """The words of a page, and the tags that would load or run something."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.foreign: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "link", "img", "iframe", "b") or any(name in ("src", "href") for name, _ in attrs):
            self.foreign.append(tag)

    def handle_data(self, data: str) -> None:
        self.words.append(data.strip())


def test_every_value_stands_there_as_people_say_it(state: StudyState) -> None:
    page = Words()
    page.feed(recall_sheet(state, 1, "2026-03-05 18:00"))
    said = " | ".join(filter(None, page.words))
    for value in (
        "Club <amp> & cab, trial 1", "1:30", "-3 dB", "cap edge", "run, chugs", "22 mm from the centre", "the dark one",
        "clean, 38 dB", "81.2 of 100", "6.5", "Device reading", "2026-03-02", "Written 2026-03-05 18:00", "<b>warm</b>",
    ):  # fmt: skip
        assert value in said, value
    assert page.foreign == []


def test_a_clock_setting_is_drawn_and_a_number_is_not(state: StudyState) -> None:
    assert re.findall(r'aria-label="([^"]+)"', recall_sheet(state, 1)) == ["gain at 1:30"]


@pytest.mark.parametrize(
    ("hours", "degrees"), [(7.0, -150.0), (9.0, -90.0), (12.0, 0.0), (13.5, 45.0), (15.0, 90.0), (17.0, 150.0)]
)
def test_a_pointer_stands_where_the_hour_hand_of_a_clock_does(hours: float, degrees: float) -> None:
    """The hour hand goes round 30 degrees an hour, from straight up at noon."""
    x, y = map(float, re.findall(r'x2="([-\d.]+)" y2="([-\d.]+)"', dial(hours, "gain"))[-1])
    assert math.degrees(math.atan2(x, -y)) == pytest.approx(degrees, abs=0.2)
    assert math.hypot(x, y) == pytest.approx(36, abs=0.1)


def test_a_trial_that_is_not_there_is_told(state: StudyState) -> None:
    with pytest.raises(NotFound):
        recall_sheet(state, 2)
