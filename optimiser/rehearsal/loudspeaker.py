"""The pretend loudspeaker and its cabinet: resonance, a few modes of the box, breakup and roll-off."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimiser.rehearsal.filters import Section, response, section
from optimiser.rehearsal.riffs import RATE_HZ


@dataclass(frozen=True)
class Loudspeaker:
    """An invented guitar loudspeaker in a box (no source but the shape that such responses have, from memory).

    Attributes:
        resonance_hz: where cone and box resonate; below it the level falls.
        resonance_q: how sharply.
        roll_off_hz: where breakup ends and the level falls by 24 dB per octave.
        modes: frequency in Hz, quality, and level in dB of the box's modes and of the cone's breakup.
    """

    resonance_hz: float = 88.0
    resonance_q: float = 1.3
    roll_off_hz: float = 5_200.0
    modes: tuple[tuple[float, float, float], ...] = (
        (125.0, 2.0, 2.5),
        (310.0, 3.0, -3.0),
        (540.0, 4.0, 2.0),
        (1_150.0, 3.0, -2.5),
        (2_600.0, 1.4, 6.0),
        (3_900.0, 5.0, -4.0),
    )

    @property
    def sections(self) -> tuple[Section, ...]:
        """The filters that make it up."""
        return (
            section("high-pass", self.resonance_hz, RATE_HZ, self.resonance_q),
            section("low-pass", self.roll_off_hz, RATE_HZ, 0.54),
            section("low-pass", self.roll_off_hz, RATE_HZ, 1.31),
            *(section("peak", frequency_hz, RATE_HZ, q, gain_db) for frequency_hz, q, gain_db in self.modes),
        )

    def response(self, frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        """Complex sound pressure over voltage at (m,) frequencies, before any microphone stands somewhere."""
        return response(self.sections, frequencies_hz, RATE_HZ)
