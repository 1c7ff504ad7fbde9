"""The study sheet of the rehearsal amp, the tone that is wanted there, and the best settings that were found."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from optimiser.space import Value

REHEARSAL_SHEET: Final = """\
[study]
name = "rehearsal"
title = "Rehearsal amp, one loudspeaker, one microphone"
timezone = "UTC"
minutes_per_trial = 5
trials_planned = 20

[settings.gain]
kind = "knob"
scale = "clock"
low = "8:00"
high = "17:00"
effort_minutes = 0.2
tolerance = "0:05"

[settings.stage]
kind = "stage"
steps = ["open", "pushed", "full"]
effort_minutes = 0.1

[settings.mic]
kind = "mic"
effort_minutes = 1.5
tolerance = 5
spots = [
    { name = "cap centre", radial_mm = 0, distance_mm = 25, angle_deg = 0 },
    { name = "cap edge", radial_mm = 25, distance_mm = 25, angle_deg = 0 },
    { name = "cone", radial_mm = 60, distance_mm = 25, angle_deg = 0 },
    { name = "rim", radial_mm = 80, distance_mm = 30, angle_deg = 0 },
    { name = "turned", radial_mm = 35, distance_mm = 40, angle_deg = 45 },
    { name = "step back", radial_mm = 20, distance_mm = 400, angle_deg = 0 },
]

[settings.riffs]
kind = "riff order"
riffs = ["run", "two-note", "chugs", "held chord"]
effort_minutes = 0.3

[[never]]
stage = ["full"]
gain = { above = "16:00" }

[reading]
name = "device reading"
low = 0
high = 10
wanted = [6, 8]
redo_below = 5

[overall]
match = 1.0
goal = 1.0
articulation = 0.5

[goal]
gain = "1:00"
stage = "pushed"
mic = "cap edge"

[fixed]
cabinet = "one twelve-inch loudspeaker, closed"
microphone = "dynamic, cardioid"
preamp = "trimmed to -6 dBFS peak"
load = "the cabinet, always connected"
"""
"""The rehearsal's study sheet: an invented chain."""

FAVOURITE_SETTINGS: Final[Mapping[str, Value]] = MappingProxyType({"gain": 13.0, "stage": "pushed", "mic": "cap edge"})
"""The tone that is wanted in the room: more gain than the device follows best."""

BEST_SETTINGS: Final[Mapping[str, Value]] = MappingProxyType(
    {
        "gain": 12.0 + 5.0 / 60.0,
        "stage": "pushed",
        "mic": "cap edge",
        "riffs": ["chugs", "held chord", "run", "two-note"],
    }
)
"""Best of all settings surveyed, without errors of hands, days or files; 12:05 on the gain knob.

Found by `python -m tests.benchmarks.survey_rehearsal`, whose results are in studies/rehearsal-amp.
"""

BEST_OVERALL: Final = 60.7
"""Points. Overall score of `BEST_SETTINGS` by version 4 of the measure."""
