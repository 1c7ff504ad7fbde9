"""How hands, days, files and the device's start of learning are off on the rehearsal amp."""

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.rehearsal.device_model import CaptureDevice
from optimiser.rehearsal.microphone import Place
from optimiser.rehearsal.riffs import RATE_HZ
from optimiser.units import DIAL_HIGH_HOURS, DIAL_LOW_HOURS, ratio_from_decibels

TOLERANCE_SPREADS: Final = 2.0
"""Standard deviations in a tolerance: a hand keeps within it 19 times in 20 (common practice, no source)."""

_HALF_SINC: Final = 32

_DAYS: Final = 7_305
"""Keeps the days' draws apart from those of any single take."""


@dataclass(frozen=True)
class Errors:
    """How far things are off; every size of 0 switches one of them off (sizes: common practice, no source).

    Attributes:
        hands: 1 for the sheet's tolerances, 0 for hands that never err.
        day_gain_db: standard deviation of the amplifier's gain from day to day.
        day_treble_db: that of its treble.
        day_mic_mm: that of the stand's place, aside and away.
        level_db: largest difference in level between the files.
        latency_ms: longest delay of a file.
        inverted_share: how often a capture comes back with its polarity turned.
        start_share: standard deviation, as a share, of the drive with which the device starts to learn.
    """

    hands: float = 1.0
    day_gain_db: float = 0.6
    day_treble_db: float = 0.25
    day_mic_mm: float = 1.5
    level_db: float = 4.0
    latency_ms: float = 12.0
    inverted_share: float = 0.25
    start_share: float = 0.1


NO_ERRORS: Final = Errors(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
"""Nothing is off."""


@dataclass(frozen=True)
class Drift:
    """Where the chain has drifted to on one day.

    Attributes:
        gain_db: change of the amplifier's gain.
        treble_db: change of its treble.
        radial_mm: change of the stand's place, away from the cone's centre.
        distance_mm: change of its distance.
    """

    gain_db: float
    treble_db: float
    radial_mm: float
    distance_mm: float


def drift_of(day: int, errors: Errors, seed: int) -> Drift:
    """The drift of a day: the same for every trial of that day.

    Args:
        day: number of the day, from 0.
        errors: how far things are off.
        seed: another seed gives other days.
    """
    gain, treble, radial, distance = np.random.default_rng([seed, day, _DAYS]).normal(size=4)
    return Drift(
        float(gain) * errors.day_gain_db,
        float(treble) * errors.day_treble_db,
        float(radial) * errors.day_mic_mm,
        float(distance) * errors.day_mic_mm,
    )


def turn_knob(hours: float, tolerance_hours: float, errors: Errors, rng: np.random.Generator) -> float:
    """Where a knob really ends up, on the dial."""
    turned = hours + errors.hands * tolerance_hours / TOLERANCE_SPREADS * float(rng.normal())
    return min(max(turned, DIAL_LOW_HOURS), DIAL_HIGH_HOURS)


def stand_mic(place: Place, tolerance: float, errors: Errors, rng: np.random.Generator) -> Place:
    """Where a stand really ends up; the tolerance holds for millimetres and degrees."""
    radial, distance, angle = (errors.hands * tolerance / TOLERANCE_SPREADS * rng.normal(size=3)).tolist()
    return Place(place.radial_mm + radial, max(place.distance_mm + distance, 0.0), place.angle_deg + angle)


def start_learning(device: CaptureDevice, errors: Errors, rng: np.random.Generator) -> CaptureDevice:
    """The device with the drive from which it happens to start: a learner begins with numbers drawn by chance."""
    return replace(device, start_drive=device.start_drive * math.exp(errors.start_share * float(rng.normal())))


def delayed(samples: NDArray[np.float64], delay_samples: float) -> NDArray[np.float64]:
    """(n,) samples later by a whole number of samples and a fraction, by a windowed sinc of 64 samples."""
    whole = math.floor(delay_samples)
    offsets = np.arange(-_HALF_SINC, _HALF_SINC) - (delay_samples - whole)
    window = np.cos(np.pi * offsets / (2.0 * (_HALF_SINC + 1))) ** 2
    smeared = np.convolve(samples, np.sinc(offsets) * window)[_HALF_SINC:]
    return np.concatenate([np.zeros(whole), smeared])[: len(samples)]


def as_file(
    samples: NDArray[np.float64], errors: Errors, rng: np.random.Generator, *, may_turn: bool
) -> NDArray[np.float64]:
    """(n,) samples as they come back in a file: late, at another level, perhaps upside down.

    Args:
        samples: (n,) samples.
        errors: how far things are off.
        rng: source of chance.
        may_turn: whether the polarity may be turned.
    """
    delay_samples = rng.uniform(0.0, errors.latency_ms) * RATE_HZ / 1000.0
    gain = ratio_from_decibels(-rng.uniform(0.0, errors.level_db))
    turned = may_turn and rng.uniform() < errors.inverted_share
    return delayed(samples, delay_samples) * (-gain if turned else gain)
