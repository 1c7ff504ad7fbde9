"""The pretend amplifier: clipping stages in a row, a gain knob, tone network and a supply that gives way.

Each stage clips softly and lopsidedly, and a filter stands between any two, so that what one stage makes of a chord
is filtered before the next one clips it again. All of it runs at a multiple of the sample rate against aliasing.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.rehearsal.filters import section, through
from optimiser.rehearsal.riffs import RATE_HZ
from optimiser.units import DIAL_HIGH_HOURS, DIAL_LOW_HOURS, ratio_from_decibels

TAPER_AT_HALF: Final = 0.15
"""Share of the full signal at half travel of an audio-taper gain knob (common practice, no source)."""


@dataclass(frozen=True)
class Voicing:
    """What a step of the voicing stage switches.

    Attributes:
        drive_db: gain in front of the second clipping stage.
        bass_cut_hz: corner of the high-pass between the first two stages.
        bright_db: high shelf above 1.2 kHz in front of the second stage.
        third_db: gain in front of the third clipping stage; None when the signal goes past it.
    """

    drive_db: float
    bass_cut_hz: float
    bright_db: float
    third_db: float | None


VOICINGS: Final[Mapping[str, Voicing]] = MappingProxyType(
    {
        "open": Voicing(drive_db=24.0, bass_cut_hz=60.0, bright_db=0.0, third_db=None),
        "pushed": Voicing(drive_db=24.0, bass_cut_hz=120.0, bright_db=3.0, third_db=8.0),
        "full": Voicing(drive_db=28.0, bass_cut_hz=200.0, bright_db=6.0, third_db=14.0),
    }
)
"""The steps of the switch, tamest first; an invented amplifier (no source)."""


@dataclass(frozen=True)
class Amplifier:
    """The parts of the amplifier that no setting changes.

    Attributes:
        oversampling: multiple of the sample rate at which it runs.
        first_db: gain in front of the first clipping stage.
        power_db: gain in front of the power stage.
        bias: working point of the clipping stages; 0 clips both sides alike.
        blocking_depth: how far a stage's working point moves for each unit by which its peaks pass the bend.
        blocking_s: time constant with which the working point moves and comes back.
        sag_depth: how much of its gain the power stage loses when driven without end.
        sag_s: time constant with which the supply gives way and recovers.
        treble_db: change of the tone network's treble, which drifts from day to day.
    """

    oversampling: int = 2
    first_db: float = -4.0
    power_db: float = 2.0
    bias: float = 0.25
    blocking_depth: float = 0.5
    blocking_s: float = 0.03
    sag_depth: float = 0.5
    sag_s: float = 0.09
    treble_db: float = 0.0


def gain_taper(hours: float) -> float:
    """Share of the signal that a gain knob of audio taper lets through: (b^x - 1) / (b - 1), x its travel from 0 to 1.

    Args:
        hours: clock face, 7 to 17.

    Returns:
        0 at 7:00, `TAPER_AT_HALF` at 12:00, 1 at 17:00.
    """
    travel = (hours - DIAL_LOW_HOURS) / (DIAL_HIGH_HOURS - DIAL_LOW_HOURS)
    base = (1.0 / TAPER_AT_HALF - 1.0) ** 2
    return float((base ** min(max(travel, 0.0), 1.0) - 1.0) / (base - 1.0))


def clip_softly(samples: NDArray[np.float64], bias: float) -> NDArray[np.float64]:
    """Lopsided soft clipping with unit slope at rest: s(x + bias) - s(bias), s(x) = x / sqrt(1 + x^2).

    Args:
        samples: (n,) samples; 1 is well into the bend.
        bias: working point; 0 clips both sides alike and makes odd harmonics alone.
    """
    slope = (1.0 + bias * bias) ** -1.5
    shifted = samples / slope + bias
    clipped: NDArray[np.float64] = shifted / np.sqrt(1.0 + shifted * shifted) - bias / math.sqrt(1.0 + bias * bias)
    return clipped


def supply_gain(current: NDArray[np.float64], depth: float, time_s: float, rate_hz: float) -> NDArray[np.float64]:
    """Gain of a stage whose supply gives way under load.

    Args:
        current: (n,) what the stage draws, as the size of its signal.
        depth: share of the gain that is lost when a load of 1 never ends.
        time_s: time constant.
        rate_hz: sample rate.

    Returns:
        (n,) gains between 1 - depth and 1.
    """
    from scipy.signal import lfilter

    pole = math.exp(-1.0 / (time_s * rate_hz))
    load: NDArray[np.float64] = lfilter([1.0 - pole], [1.0, -pole], np.minimum(np.abs(current), 1.0))
    return 1.0 - depth * load


def blocking(drive: NDArray[np.float64], amplifier: Amplifier, rate_hz: float) -> NDArray[np.float64]:
    """How far an overdriven stage's working point has moved: its coupling capacitor is charged by peaks past the bend.

    Args:
        drive: (n,) signal in front of the stage.
        amplifier: depth and time constant.
        rate_hz: sample rate.

    Returns:
        (n,) shifts, 0 as long as no peak passes 1.
    """
    from scipy.signal import lfilter

    pole = math.exp(-1.0 / (amplifier.blocking_s * rate_hz))
    past = np.maximum(drive - 1.0, 0.0)
    charge: NDArray[np.float64] = lfilter([1.0 - pole], [1.0, -pole], past)
    return amplifier.blocking_depth * charge


def amplify(di: NDArray[np.float64], gain_hours: float, stage: str, amplifier: Amplifier) -> NDArray[np.float64]:
    """The signal at the loudspeaker's terminals.

    Args:
        di: (n,) dry guitar at 48 kHz, full scale 1.
        gain_hours: the gain knob, 7 to 17.
        stage: a step of `VOICINGS`.
        amplifier: the rest.

    Returns:
        (n,) samples, within about +-1.
    """
    from scipy.signal import resample_poly

    voicing = VOICINGS[stage]
    rate_hz = RATE_HZ * amplifier.oversampling
    fast = resample_poly(di, amplifier.oversampling, 1)
    first = clip_softly(fast * ratio_from_decibels(amplifier.first_db), amplifier.bias)
    driven = first * (gain_taper(gain_hours) * ratio_from_decibels(voicing.drive_db))
    shaping = (
        section("high-pass", voicing.bass_cut_hz, rate_hz, 0.5),
        section("high shelf", 1_200.0, rate_hz, gain_db=voicing.bright_db),
    )
    shaped = through(shaping, driven)
    second = clip_softly(shaped - blocking(shaped, amplifier, rate_hz), -amplifier.bias)
    if voicing.third_db is not None:
        between = (section("low-pass", 7_000.0, rate_hz, 0.5), section("high-pass", 90.0, rate_hz, 0.5))
        shaped = through(between, second) * ratio_from_decibels(voicing.third_db)
        second = clip_softly(shaped - blocking(shaped, amplifier, rate_hz), amplifier.bias)
    power = _power_stage(_tone_network(second, amplifier, rate_hz), amplifier, rate_hz)
    slow: NDArray[np.float64] = resample_poly(power, 1, amplifier.oversampling)
    return slow[: len(di)]


def _tone_network(samples: NDArray[np.float64], amplifier: Amplifier, rate_hz: float) -> NDArray[np.float64]:
    sections = (
        section("high-pass", 70.0, rate_hz, 0.5),
        section("peak", 450.0, rate_hz, 0.7, -4.0),
        section("high shelf", 2_000.0, rate_hz, gain_db=2.0 + amplifier.treble_db),
    )
    return through(sections, samples)


def _power_stage(samples: NDArray[np.float64], amplifier: Amplifier, rate_hz: float) -> NDArray[np.float64]:
    driven = samples * ratio_from_decibels(amplifier.power_db)
    gain = supply_gain(driven, amplifier.sag_depth, amplifier.sag_s, rate_hz)
    return clip_softly(driven * gain, 0.0) * gain
