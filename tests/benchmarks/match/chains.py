"""Three toy chains whose every part is known: a clipper with a loudspeaker's roll-off. Simpler than any amp.

They differ in what is asked of a chain's articulation: how hard the clipper turns, how often the sound is clipped, and
what the loudspeaker leaves of it.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.fft import next_fast_len

RATE_HZ = 48_000
Sound = NDArray[np.float64]
Spectrum = NDArray[np.complex128]
Response = Callable[[Sound], Spectrum]


@dataclass(frozen=True)
class Chain:
    """A toy chain.

    Attributes:
        drive: gain before the clipper.
        bias: how far off the middle the clipper works; more gives more even harmonics.
        cabinet_hz: corner of the loudspeaker's roll-off.
        noise_db: noise against the loud parts of the sound.
        tight_hz: corner of the high-pass before the clipper.
        knee: "soft" for a hyperbolic tangent, "hard" for a flat top, "cascade" for two soft stages in a row.
        presence_db: height of the bell at 2.5 kHz after the clipper.
    """

    drive: float = 6.0
    bias: float = 0.15
    cabinet_hz: float = 5200.0
    noise_db: float = -72.0
    tight_hz: float = 120.0
    knee: str = "soft"
    presence_db: float = 4.0

    def play(self, dry: Sound, seed: int = 1) -> Sound:
        """The chain's recording of a dry sound, (n,), with noise of this seed."""
        pushed = through(dry, lambda hertz: high_pass(hertz, self.tight_hz) * bell(hertz, 900.0, 4.0, 0.7))
        sound = through(self._clipped(pushed), self._loudspeaker)
        loud = sound[np.abs(sound) > 1e-2 * np.max(np.abs(sound))]
        hiss = np.random.default_rng(seed).normal(size=sound.size) * np.sqrt(np.mean(loud**2))
        return np.asarray(0.25 * (sound + hiss * 10.0 ** (self.noise_db / 20)))

    def driven(self, times: float) -> "Chain":
        """The same chain with its drive multiplied."""
        return replace(self, drive=self.drive * times)

    def _clipped(self, pushed: Sound) -> Sound:
        if self.knee == "hard":
            return np.asarray(np.clip(self.drive * pushed + self.bias, -1.0, 1.0) - self.bias)
        first = np.tanh(self.drive * pushed + self.bias) - np.tanh(self.bias)
        if self.knee == "cascade":
            between = through(first, lambda hertz: high_pass(hertz, 200.0))
            return np.asarray(np.tanh(2.0 * between - self.bias) + np.tanh(self.bias))
        return np.asarray(first)

    def _loudspeaker(self, hertz: Sound) -> Spectrum:
        return np.asarray(
            high_pass(hertz, 60.0) ** 2
            * low_pass(hertz, self.cabinet_hz) ** 2
            * bell(hertz, 110.0, 4.0, 1.2)
            * bell(hertz, 2500.0, self.presence_db, 1.5)
        )


CHAINS: dict[str, Chain] = {
    "soft clipper": Chain(),
    "hard clipper, bright": Chain(bias=0.05, cabinet_hz=6500.0, tight_hz=80.0, knee="hard", presence_db=7.0),
    "two stages, dark": Chain(bias=0.3, cabinet_hz=4200.0, tight_hz=160.0, knee="cascade", presence_db=2.0),
}


def through(sound: Sound, response: Response) -> Sound:
    """A sound, (n,), through a filter given by its response at frequencies in Hz."""
    size = next_fast_len(sound.size + 8192, real=True)
    hertz = np.asarray(np.fft.rfftfreq(size, 1 / RATE_HZ), dtype=np.float64)
    spectrum = np.asarray(np.fft.rfft(sound, size), dtype=np.complex128)
    return np.asarray(np.fft.irfft(spectrum * response(hertz), size)[: sound.size])


def bell(hertz: Sound, middle_hz: float, gain_db: float, quality: float) -> Spectrum:
    """A peak, or with a negative gain a dip."""
    root, ratio = 10 ** (gain_db / 40), 1j * hertz / middle_hz
    return np.asarray((ratio**2 + ratio * root / quality + 1) / (ratio**2 + ratio / (root * quality) + 1))


def low_pass(hertz: Sound, corner_hz: float) -> Spectrum:
    """Second order, -3 dB at the corner."""
    ratio = 1j * hertz / corner_hz
    return np.asarray(1 / (1 + np.sqrt(2) * ratio + ratio**2))


def high_pass(hertz: Sound, corner_hz: float) -> Spectrum:
    """First order."""
    ratio = 1j * hertz / corner_hz
    return np.asarray(ratio / (1 + ratio))
