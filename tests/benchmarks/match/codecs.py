"""Captures sent through a lossy codec: small damage of a kind that no amp makes."""

import io
from dataclasses import dataclass
from typing import Final

import numpy as np

from tests.benchmarks.match.chains import RATE_HZ, Sound

BLOCK_FRAMES: Final = 48_000
"""Written at a time; the encoder's stack does not hold minutes."""


@dataclass(frozen=True)
class Codec:
    """One codec of libsndfile.

    Attributes:
        name: what it is called.
        container: libsndfile's format.
        subtype: libsndfile's subtype.
        levels: `compression_level`, 0 for the highest rate, 1 for the lowest.
    """

    name: str
    container: str
    subtype: str
    levels: tuple[float, ...]

    def coded(self, sound: Sound, level: float) -> tuple[Sound, float]:
        """The sound after coding and decoding, with whatever delay that brings, and the rate in kbit/s."""
        import soundfile

        file = io.BytesIO()
        with soundfile.SoundFile(
            file, "w", RATE_HZ, 1, self.subtype, format=self.container, compression_level=level
        ) as encoder:
            for first in range(0, sound.size, BLOCK_FRAMES):
                encoder.write(sound[first : first + BLOCK_FRAMES])
        rate_kbps = file.getbuffer().nbytes * 8 / 1000 / (sound.size / RATE_HZ)
        file.seek(0)
        decoded, _ = soundfile.read(file, dtype="float64")
        return np.asarray(decoded), rate_kbps


CODECS: Final = (
    Codec("vorbis", "OGG", "VORBIS", (0.0, 0.25, 0.5, 0.75)),
    Codec("mp3", "MP3", "MPEG_LAYER_III", (0.0, 0.25, 0.5, 0.75)),
    Codec("opus", "OGG", "OPUS", (0.0, 0.25, 0.5, 0.75)),
)
