"""Clock faces, decibels and the other units in which settings and sounds are spoken of.

Enters and leaves: plain numbers and short texts. Knows nothing of settings, studies or files.
"""

import math
import re
from typing import Final

DIAL_LOW_HOURS: Final = 7.0
"""Hours. Where a knob's travel starts on the usual clock face (common practice, no source)."""

DIAL_HIGH_HOURS: Final = 17.0
"""Hours. Where a knob's travel ends: 5:00 on the right, counted on past noon (common practice, no source)."""

INTERVAL_SDS: Final = 1.645
"""Standard deviations either side of the mean that hold 90 % of a normal distribution (closed form). Whatever is
printed or drawn behind a plus or minus is half of such an interval (90 %: a choice, no source)."""

_CLOCK_FACE: Final = re.compile(r"\s*(\d{1,2}):([0-5]\d)\s*")
_MINUTES_PER_HOUR: Final = 60
_NOON: Final = 12


def parse_clock(text: str) -> float:
    """Read a clock face such as `9:00`, `1:30` or `13:30` as hours between 7 and 17.

    Hours below 7 are those right of noon: `1:30` is 13.5.

    Raises:
        ValueError: the text is no clock time, or not on the dial.
    """
    match = _CLOCK_FACE.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r} is not a clock time such as 1:30")
    minutes = int(match[1]) * _MINUTES_PER_HOUR + int(match[2])
    if minutes < DIAL_LOW_HOURS * _MINUTES_PER_HOUR:
        minutes += _NOON * _MINUTES_PER_HOUR
    return check_dial(minutes / _MINUTES_PER_HOUR)


def check_dial(hours: float) -> float:
    """Return hours that lie on the dial.

    Raises:
        ValueError: outside 7 to 17, or not a number.
    """
    if not DIAL_LOW_HOURS <= hours <= DIAL_HIGH_HOURS:
        raise ValueError(f"{hours:g} is not on a dial that runs from 7:00 round to 5:00 (7 to 17)")
    return hours


def show_clock(hours: float) -> str:
    """Say hours as people do: 13.5 is `1:30`, to the nearest minute."""
    minutes = round(hours * _MINUTES_PER_HOUR)
    whole, rest = divmod(minutes, _MINUTES_PER_HOUR)
    return f"{whole - _NOON if whole > _NOON else whole}:{rest:02d}"


def exact_clock(hours: float) -> str | float:
    """The clock face where it stands for exactly these hours, else the hours themselves."""
    shown = show_clock(hours)
    return shown if parse_clock(shown) == hours else hours


def whole_minutes(hours: float) -> float:
    """Hours that are a whole number of minutes but for rounding made exactly so; others as they are."""
    minutes = hours * _MINUTES_PER_HOUR
    return round(minutes) / _MINUTES_PER_HOUR if math.isclose(minutes, round(minutes), abs_tol=1e-6) else hours


def show_number(value: float, digits: int = 3) -> str:
    """A number to `digits` significant figures, without trailing zeros or exponent."""
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


SCORE_SCALE: Final = (0.0, 100.0)
"""Ends of the scale on which captures are scored."""


def plus_minus(score: float, sd: float, decimals: int = 1) -> str:
    """A score with half of its 90 % interval; with the interval's ends where it would pass an end of the scale."""
    half, (low, high) = INTERVAL_SDS * sd, SCORE_SCALE
    if low <= score <= high and not low <= score - half <= score + half <= high:
        return f"{score:.{decimals}f} ({max(low, score - half):.{decimals}f} to {min(high, score + half):.{decimals}f})"
    return f"{score:.{decimals}f} +-{half:.{decimals}f}"


def decibels_from_ratio(ratio: float) -> float:
    """20 log10 of an amplitude ratio; minus infinity for zero."""
    return 20.0 * math.log10(ratio) if ratio > 0 else -math.inf


def ratio_from_decibels(decibels: float) -> float:
    """The amplitude ratio of a level difference."""
    return float(10.0 ** (decibels / 20.0))


def show_minutes(minutes: float) -> str:
    """A span of time as `40 s`, `7 min` or `2 h 5 min`."""
    if minutes < 1:
        return f"{round(minutes * _MINUTES_PER_HOUR)} s"
    whole = round(minutes)
    hours, rest = divmod(whole, _MINUTES_PER_HOUR)
    if hours == 0:
        return f"{whole} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


NIOSH_LIMIT_DBA: Final = 85.0
"""dBA allowed for a working day of 8 hours [NIOSH1998]."""

NIOSH_EXCHANGE_DB: Final = 3.0
"""dB by which the level must fall for the time to double [NIOSH1998]."""

LEVEL_SCALE_DBA: Final = (0.0, 140.0)
"""dBA that a room can have: the threshold of hearing (common practice, no source) and the ceiling for any noise
[NIOSH1998]."""

DAY_MINUTES: Final = 1440.0
"""Minutes of a day."""

_WORKING_DAY_MINUTES: Final = 480.0


def exposure_minutes(level_dba: float) -> float:
    """Minutes a day at `level_dba` within the recommended exposure limit: 480 / 2^((L - 85) / 3) [NIOSH1998].

    Local codes may be stricter and come first.
    """
    return float(_WORKING_DAY_MINUTES / 2.0 ** ((level_dba - NIOSH_LIMIT_DBA) / NIOSH_EXCHANGE_DB))
