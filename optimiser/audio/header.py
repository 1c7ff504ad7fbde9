"""What a sound file says of itself, once checked."""

from dataclasses import dataclass
from typing import Final, Literal

Container = Literal["WAV", "RF64", "W64", "AIFF", "AIFF-C", "FLAC"]
"""Kinds of file that are read."""

ByteOrder = Literal["little", "big"]

BITS: Final[dict[str, int]] = {"PCM_16": 16, "PCM_24": 24, "PCM_32": 32, "FLOAT": 32, "DOUBLE": 64}
"""Bits a sample of each form of sound that is read and written."""


@dataclass(frozen=True)
class SoundForm:
    """How sound is written down.

    Attributes:
        rate_hz: samples per second, 8000 to 384000.
        channels: 1 to 8.
        subtype: `PCM_16`, `PCM_24`, `PCM_32`, `FLOAT` or `DOUBLE`.
        byte_order: which end of a sample comes first; means nothing in FLAC.
    """

    rate_hz: int
    channels: int
    subtype: str
    byte_order: ByteOrder = "little"

    @property
    def frame_bytes(self) -> int:
        """Bytes of one sample in all channels, unpacked."""
        return self.channels * BITS[self.subtype] // 8


@dataclass(frozen=True)
class AudioHeader:
    """What a sound file says of itself, checked against the file.

    Attributes:
        container: the kind of file.
        form: rate, channels and the form of a sample.
        frames: samples per channel, 1 or more.
        first_byte: where in the file the sound starts.
    """

    container: Container
    form: SoundForm
    frames: int
    first_byte: int

    @property
    def rate_hz(self) -> int:
        """Samples per second."""
        return self.form.rate_hz

    @property
    def channels(self) -> int:
        """Channels, 1 to 8."""
        return self.form.channels

    @property
    def subtype(self) -> str:
        """Form of a sample, as in `PCM_24`."""
        return self.form.subtype

    @property
    def duration_s(self) -> float:
        """Seconds of sound."""
        return self.frames / self.rate_hz
