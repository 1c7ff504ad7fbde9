"""What must not count: everything between two recordings of one amp that says nothing of the amp."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.fft import next_fast_len

from tests.benchmarks.match.chains import RATE_HZ, Sound
from tests.benchmarks.match.faults import Playing

LEAST_SCORE: Final = 99.5
LEAST_SCORE_AT_180_PPM: Final = 99.0
"""What a nuisance may cost at most (ours)."""

CLOCK_HZ: Final = 1_000_000


@dataclass(frozen=True, eq=False)
class Nuisance:
    """One of them.

    Attributes:
        name: what it is called.
        apply: makes the capture.
        rate_hz: of the capture.
    """

    name: str
    apply: Callable[[Playing], Sound]
    rate_hz: int = RATE_HZ

    @property
    def least_score(self) -> float:
        """The bar."""
        return LEAST_SCORE_AT_180_PPM if "180 ppm" in self.name else LEAST_SCORE


def delayed(sound: Sound, samples: float) -> Sound:
    """The sound later, or with a negative delay earlier; the fraction is a turn of phase."""
    whole = int(np.floor(samples))
    size = next_fast_len(sound.size + 8192, real=True)
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(size) * (samples - whole))
    moved = np.fft.irfft(np.fft.rfft(sound, size) * turn, size)[: sound.size]
    return np.concatenate([np.zeros(whole), moved]) if whole >= 0 else np.asarray(moved[-whole:])


def drifted(sound: Sound, ppm: float) -> Sound:
    """What a clock records that counts so many parts in a million faster."""
    return at_rate(sound, CLOCK_HZ, CLOCK_HZ + ppm)


def at_rate(sound: Sound, from_hz: float, to_hz: float) -> Sound:
    """Resampled in the best quality that the library has."""
    import soxr

    return np.asarray(soxr.resample(sound, from_hz, to_hz, quality="VHQ"), dtype=np.float64)


def hissing(playing: Playing, noise_db: float = -62.0) -> Sound:
    """The capture with noise of its own at another level."""
    return playing.played_by(replace(playing.chain, noise_db=noise_db))


def all_together(playing: Playing) -> Sound:
    """Hiss 10 dB up, clock, delay, gain, polarity, offset and rate at once; for a capture at 44.1 kHz."""
    moved = delayed(drifted(hissing(playing), 30.0), 1234.5)
    return at_rate(-0.25 * moved + 0.005, RATE_HZ, 44_100)


def _own(change: Callable[[Sound], Sound]) -> Callable[[Playing], Sound]:
    return lambda playing: change(playing.sound)


NUISANCES: Final = (
    Nuisance("other hiss", _own(lambda sound: sound)),
    Nuisance("hiss 10 dB up", hissing),
    Nuisance("delay 3.37 samples", _own(lambda sound: delayed(sound, 3.37))),
    Nuisance("delay 1234.5 samples", _own(lambda sound: delayed(sound, 1234.5))),
    Nuisance("delay -777.25 samples", _own(lambda sound: delayed(sound, -777.25))),
    Nuisance("delay 2.5 s", _own(lambda sound: delayed(sound, 2.5 * RATE_HZ))),
    Nuisance("0.5 s late start", _own(lambda sound: sound[RATE_HZ // 2 :])),
    Nuisance("gain -12 dB", _own(lambda sound: sound * 10.0 ** (-12.0 / 20.0))),
    Nuisance("gain 12 dB", _own(lambda sound: sound * 10.0 ** (12.0 / 20.0))),
    Nuisance("polarity", _own(lambda sound: -sound)),
    *(
        Nuisance(f"drift {ppm} ppm", _own(lambda sound, ppm=ppm: drifted(sound, ppm)))  # type: ignore[misc]
        for ppm in (-180, -100, -30, 30, 100, 180)
    ),
    Nuisance("44.1 kHz", _own(lambda sound: at_rate(sound, RATE_HZ, 44_100)), 44_100),
    Nuisance("48 kHz, written as 24 bits", _own(lambda sound: np.round(sound * 2**23) / 2**23)),
    Nuisance("96 kHz", _own(lambda sound: at_rate(sound, RATE_HZ, 96_000)), 96_000),
    Nuisance("offset", _own(lambda sound: sound + 0.02)),
    Nuisance("all together", all_together, 44_100),
)
