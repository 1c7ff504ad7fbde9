"""What may be given for a setting, in words, and one value as an example."""

from typing import cast

from optimiser.space.choice import Choice
from optimiser.space.knob import Knob
from optimiser.space.mic_spot import AXES, MicPlace, MicSpot
from optimiser.space.riff_order import RiffOrder
from optimiser.space.settings import Setting
from optimiser.space.stage import Stage


def allowed_in_words(setting: Setting) -> str:
    """The values that the sheet allows, as in `one of open, pushed, full`."""
    match setting:
        case Knob(scale="clock", low=low, high=high):
            return f"a clock time from {setting.show(low)} round to {setting.show(high)}"
        case Knob(low=low, high=high):
            return f"a number from {setting.show(low)} to {setting.show(high)}"
        case MicPlace():
            spans = [f"{axis} {low:g} to {high:g}" for axis, (low, high) in zip(AXES, setting.ranges, strict=True)]
            return f"a place, {', '.join(spans)}"
        case RiffOrder():
            return f"an order of {setting.use} of {', '.join(setting.riffs)}"
    return f"one of {', '.join(map(str, setting.levels() or ()))}"


def example_of(setting: Setting) -> str:
    """A value that the sheet allows, as people type it: the middle of a range, else the first."""
    match setting:
        case Stage() | Choice() | MicSpot():
            return setting.write(setting.levels()[0])
        case MicPlace():
            middle = setting.nearest({axis: sum(span) / 2 for axis, span in zip(AXES, setting.ranges, strict=True)})
            return ",".join(f"{middle[axis]:g}" for axis in AXES)
        case RiffOrder():
            return setting.write(list(setting.riffs[: setting.use]))
    knob = cast(Knob, setting)
    middle_of_knob = knob.nearest((knob.low + knob.high) / 2)
    return knob.write(middle_of_knob) if knob.scale == "clock" else f"{middle_of_knob:g}"
