"""A recording, and where riffs, rests and the dyad lie in the reel that was recorded."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal, Protocol, get_args

import numpy as np
from numpy.typing import NDArray

from optimiser.errors import BadInput, InvalidRecording

Samples = NDArray[np.float64]
"""Sound in double precision, full scale +-1: (n,) mono or (n, channels)."""

PassageKind = Literal["marker", "silence", "riff", "chord", "dyad", "rest", "sweep"]

WORKING_RATE_HZ: Final = 48_000
"""Hz. Every recording is compared at this rate (common practice in sound for pictures and broadcast)."""

LOWEST_RATE_HZ: Final = 8_000
"""Hz. A recording slower than this holds no guitar worth comparing (common practice, no source)."""

HIGHEST_RATE_HZ: Final = 384_000
"""Hz. The fastest rate that recorders offer (common practice, no source)."""

MOST_CHANNELS: Final = 8
"""Channels. More are a multitrack, not a take (common practice, no source)."""

BLOCK_FRAMES: Final = 65_536
"""Samples per channel that are worked on at a time."""

HELD_WHOLE_S: Final = 60.0
"""Seconds up to which a sound is kept in memory once it was read."""


@dataclass(frozen=True)
class Passage:
    """One stretch of a reel.

    Attributes:
        name: the riff's name, or what the stretch is, as in `chugs soft` or `rest`.
        kind: what it is there for.
        start_s: seconds from the start of the reel.
        end_s: seconds from the start of the reel; later than `start_s`.

    Raises:
        BadInput: an unknown kind, or a time that cannot be.
    """

    name: str
    kind: PassageKind
    start_s: float
    end_s: float

    def __post_init__(self) -> None:
        if self.kind not in get_args(PassageKind):
            raise BadInput(f"{self.kind!r} is no kind of passage.", f"Use one of {', '.join(get_args(PassageKind))}.")
        if not (math.isfinite(self.end_s) and 0 <= self.start_s < self.end_s):
            raise BadInput(
                f"Passage {self.name!r} cannot run from {self.start_s:g} s to {self.end_s:g} s.",
                "Give a start of 0 or more and an end after it.",
            )

    @property
    def duration_s(self) -> float:
        """Seconds from start to end."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class ReelLayout:
    """Where everything lies in a reel, in the order of time.

    Raises:
        BadInput: no passage, or two that overlap.
    """

    passages: tuple[Passage, ...]

    def __post_init__(self) -> None:
        if not self.passages:
            raise BadInput("A reel's layout has no passage.", "Name at least one riff.")
        for earlier, later in pairwise(self.passages):
            if later.start_s < earlier.end_s - 1e-9:
                raise BadInput(
                    f"Passage {later.name!r} starts at {later.start_s:g} s, before {earlier.name!r} ends.",
                    "List the passages in the order of time, without overlap.",
                )

    @property
    def duration_s(self) -> float:
        """Seconds from the start of the reel to the end of its last passage."""
        return self.passages[-1].end_s

    def of_kind(self, *kinds: PassageKind) -> tuple[Passage, ...]:
        """The passages of these kinds, in the order of time."""
        return tuple(passage for passage in self.passages if passage.kind in kinds)


class Sound(Protocol):
    """Sound that can be gone through from its start as often as needed, a block at a time."""

    @property
    def rate_hz(self) -> int:
        """Samples per second."""

    @property
    def channels(self) -> int:
        """Number of channels."""

    @property
    def frames(self) -> int:
        """Samples in each channel."""

    def blocks(self) -> Iterator[Samples]:
        """(k, channels) float64, full scale +-1, in order; k varies, and every call starts anew."""


@dataclass(frozen=True, eq=False)
class ArraySound:
    """Sound that is in memory as a whole.

    Attributes:
        samples: (n, channels) float64, full scale +-1.
        rate_hz: samples per second.
    """

    samples: Samples
    rate_hz: int

    @property
    def channels(self) -> int:
        """Number of channels."""
        return int(self.samples.shape[1])

    @property
    def frames(self) -> int:
        """Samples in each channel."""
        return int(self.samples.shape[0])

    def blocks(self) -> Iterator[Samples]:
        """Views of the samples, in order."""
        for first in range(0, self.frames, BLOCK_FRAMES):
            yield self.samples[first : first + BLOCK_FRAMES]


def held(sound: Sound) -> Sound:
    """The same sound, in memory when it is short enough, so that it is decoded only once."""
    if sound.frames > HELD_WHOLE_S * sound.rate_hz or isinstance(sound, ArraySound):
        return sound
    return ArraySound(np.concatenate([*sound.blocks(), np.zeros((0, sound.channels))]), sound.rate_hz)


def array_sound(samples: Samples, rate_hz: int, name: str) -> ArraySound:
    """Sound from an array.

    Args:
        samples: (n,) or (n, channels), full scale +-1.
        rate_hz: samples per second.
        name: what the sound is called in messages.

    Raises:
        InvalidRecording: with fault `shape`.
    """
    try:
        channels = np.asarray(samples, dtype=np.float64)
    except (TypeError, ValueError):
        raise InvalidRecording(f"The {name} is no array of numbers.", "Hand in float samples.", fault="shape") from None
    channels = channels[:, None] if channels.ndim == 1 else channels
    if channels.ndim != 2 or not 1 <= channels.shape[1] <= MOST_CHANNELS:
        raise InvalidRecording(
            f"The {name} has shape {channels.shape}.", "Hand in (n,) or (n, channels), up to 8 channels.", fault="shape"
        )
    return ArraySound(channels, rate_hz)


def check_rate(rate_hz: float, name: str = "") -> None:
    """Refuse a sample rate outside 8 to 384 kHz, or one that is no whole number of hertz.

    Raises:
        InvalidRecording: with fault `rate`.
    """
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ or rate_hz != int(rate_hz):
        raise InvalidRecording(
            f"{name}{': ' if name else ''}a sample rate of {rate_hz:g} Hz cannot be used.",
            "Export it again at 44.1, 48 or 96 kHz.",
            fault="rate",
        )


def check_finite(samples: Samples, rate_hz: float, name: str = "", first_frame: int = 0) -> None:
    """Refuse sound with values that are no numbers, and say where the first one stands.

    Args:
        samples: (n,) or (n, channels).
        rate_hz: samples per second.
        name: what the sound is called in the message.
        first_frame: frames that went before these.

    Raises:
        InvalidRecording: with fault `not_finite`.
    """
    finite = np.isfinite(samples)
    if finite.all():
        return
    where = np.argwhere(~finite)[0]
    frame = int(where[0]) + first_frame
    channel = f", channel {int(where[1]) + 1}" if samples.ndim > 1 and samples.shape[1] > 1 else ""
    raise InvalidRecording(
        f"{name or 'The recording'} holds a value that is no number at sample {frame} "
        f"({frame / rate_hz:.3f} s{channel}).",
        "Export it again as 24-bit WAV, or find the effect that breaks down there.",
        fault="not_finite",
    )
