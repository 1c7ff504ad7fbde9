"""What a microphone hears of the cone from where it stands.

The cone is taken for a piston whose outer part lets go at high frequencies; the microphone for one that is half
pressure and half pressure gradient. The floor throws the sound back once.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.rehearsal.loudspeaker import Loudspeaker
from optimiser.rehearsal.riffs import RATE_HZ

SOUND_SPEED_M_PER_S: Final = 343.0
"""m/s, speed of sound in dry air at 20 degrees C [Kinsler2000]."""

N_RESPONSE: Final = 4096
"""Samples of the impulse response from loudspeaker to microphone."""

_LEAD_SAMPLES: Final = 48
_MM_PER_M: Final = 1000.0


@dataclass(frozen=True)
class Place:
    """Where the microphone stands.

    Attributes:
        radial_mm: offset from the cone's centre.
        distance_mm: distance from the grille.
        angle_deg: turn of the microphone away from the cone's axis.
    """

    radial_mm: float
    distance_mm: float
    angle_deg: float


@dataclass(frozen=True)
class Room:
    """Cone, floor and microphone, which no setting changes (invented; sizes from memory).

    Attributes:
        cone_radius_m: radius of the cone; 0.125 for a twelve-inch one.
        decouple_hz: above it the radiating radius shrinks with the square root of frequency.
        depth_mm: from grille to where the sound seems to come from.
        height_m: of the cone's centre above the floor.
        floor_reflection: share of the sound that the floor throws back.
        floor_cutoff_hz: above it the floor swallows the sound.
        gradient_share: 0 for a pressure microphone, 0.5 for a cardioid.
        capsule_radius_m: radius of the capsule, which turns deaf to high frequencies from the side.
    """

    cone_radius_m: float = 0.125
    decouple_hz: float = 900.0
    depth_mm: float = 60.0
    height_m: float = 0.3
    floor_reflection: float = 0.6
    floor_cutoff_hz: float = 3_500.0
    gradient_share: float = 0.5
    capsule_radius_m: float = 0.0125


def piston_directivity(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """Far-field pressure of a piston in a wall against that on its axis [Kinsler2000].

    It is 2 J1(x) / x with x = k a sin(angle). Its first null lies at x = 3.8317, the first zero of J1.
    """
    from scipy.special import j1

    safe = np.where(np.abs(x) < 1e-9, 1.0, x)
    return np.where(np.abs(x) < 1e-9, 1.0, 2.0 * j1(safe) / safe)


def radiating_radius_m(frequencies_hz: NDArray[np.float64], room: Room) -> NDArray[np.float64]:
    """(m,) radii of the part of the cone that still moves as one."""
    return room.cone_radius_m * np.sqrt(np.minimum(1.0, room.decouple_hz / np.maximum(frequencies_hz, 1.0)))


def gradient_boost(frequencies_hz: NDArray[np.float64], distance_m: float) -> NDArray[np.complex128]:
    """Proximity effect of the gradient half at a point source, 1 + 1 / (j k r) [Kinsler2000].

    Args:
        frequencies_hz: (m,) frequencies above 0.
        distance_m: distance r from the source.
    """
    wave_number = 2.0 * np.pi * frequencies_hz / SOUND_SPEED_M_PER_S
    return np.asarray(1.0 + 1.0 / (1j * wave_number * distance_m), dtype=np.complex128)


def _path(
    frequencies_hz: NDArray[np.float64], ahead_m: float, aside_m: float, turned_rad: float, room: Room
) -> NDArray[np.complex128]:
    """Sound along one straight path, with its spreading, delay, directivity and the microphone's pattern."""
    length_m = math.hypot(ahead_m, aside_m)
    wave_number = 2.0 * np.pi * frequencies_hz / SOUND_SPEED_M_PER_S
    beam = piston_directivity(wave_number * radiating_radius_m(frequencies_hz, room) * (aside_m / length_m))
    capsule = piston_directivity(wave_number * room.capsule_radius_m * math.sin(turned_rad))
    source_m = math.hypot(length_m, room.cone_radius_m / 2.0)
    share = room.gradient_share
    pattern = (1.0 - share) + share * math.cos(turned_rad) * gradient_boost(frequencies_hz, source_m)
    spread = room.depth_mm / _MM_PER_M / source_m
    return np.asarray(spread * beam * capsule * pattern * np.exp(-1j * wave_number * length_m), dtype=np.complex128)


def pick_up(frequencies_hz: NDArray[np.float64], place: Place, room: Room) -> NDArray[np.complex128]:
    """Complex response from cone to microphone, straight and by way of the floor, at (m,) frequencies above 0."""
    ahead_m = (place.distance_mm + room.depth_mm) / _MM_PER_M
    aside_m = abs(place.radial_mm) / _MM_PER_M
    turned = math.radians(place.angle_deg)
    off_axis = math.atan2(aside_m, ahead_m)
    straight = _path(frequencies_hz, ahead_m, aside_m, turned + off_axis, room)
    down_m = math.hypot(2.0 * room.height_m, aside_m)
    floor = _path(frequencies_hz, ahead_m, down_m, turned + math.atan2(down_m, ahead_m), room)
    swallowed = room.floor_reflection / (1.0 + 1j * frequencies_hz / room.floor_cutoff_hz)
    return straight + swallowed * floor


def impulse_response(loudspeaker: Loudspeaker, place: Place, room: Room) -> NDArray[np.float64]:
    """(4096,) samples at 48 kHz from the loudspeaker's terminals to the microphone; the sound starts after 1 ms."""
    frequencies_hz = np.fft.rfftfreq(N_RESPONSE, 1.0 / RATE_HZ)
    audible = np.maximum(frequencies_hz, RATE_HZ / N_RESPONSE)
    spectrum = loudspeaker.response(audible) * pick_up(audible, place, room)
    spectrum *= np.exp(-2j * np.pi * frequencies_hz * _LEAD_SAMPLES / RATE_HZ)
    spectrum[0] = 0.0
    return np.fft.irfft(spectrum, N_RESPONSE)


def pressure(voltage: NDArray[np.float64], answer: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n,) samples at the microphone from (n,) samples at the loudspeaker and the impulse response between them."""
    from scipy.signal import oaconvolve

    heard: NDArray[np.float64] = oaconvolve(voltage, answer)[: len(voltage)]
    return heard
