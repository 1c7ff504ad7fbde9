"""The same few seconds of a trial's reference and capture, made to be compared by ear and by nothing else.

Aligned as the measurement found, the right way up, at one rate, of one length, with as many channels, at one loudness.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from optimiser.audio import StoredSound, open_recording, wav_bytes
from optimiser.errors import BadInput, BadUse
from optimiser.scoring import Samples, loudness_lkfs
from optimiser.storage import Store
from optimiser.study import fold
from optimiser.units import decibels_from_ratio, ratio_from_decibels

RATE_HZ: Final = 48_000
"""Samples per second of every excerpt."""

USUAL_S: Final = 8.0
"""Seconds; long enough for a phrase, short enough to be held in memory (common practice, no source)."""

SHORTEST_S: Final = 1.0
LONGEST_S: Final = 30.0
"""Seconds that an excerpt may last (a choice, no source)."""

HIGHEST_PEAK_DB: Final = -1.0
"""dBFS up to which a sample may reach after the gain; both clips are lowered alike when one would go beyond."""

FADE_S: Final = 0.01
"""Seconds over which an excerpt comes and goes, so that no click tells them apart (a choice, no source)."""

_STEP: Final = 2.0**-23
"""One step of 24 bits."""


@dataclass(frozen=True)
class Window:
    """Which part of a recording.

    Attributes:
        start_s: where it starts in the reference; None for where the reference is loudest.
        seconds: how long it lasts.

    Raises:
        BadUse: a start before the recording, or a length that cannot be.
    """

    start_s: float | None = None
    seconds: float = USUAL_S

    def __post_init__(self) -> None:
        if not SHORTEST_S <= self.seconds <= LONGEST_S:
            raise BadUse(
                f"An excerpt cannot last {self.seconds:g} s.", f"Ask for {SHORTEST_S:g} to {LONGEST_S:g} seconds."
            )
        if self.start_s is not None and not 0.0 <= self.start_s < 1e6:
            raise BadUse(f"An excerpt cannot start at {self.start_s:g} s.", "Give seconds from the recording's start.")


@dataclass(frozen=True, eq=False)
class Excerpt:
    """Two clips that may be switched between.

    Attributes:
        trial: number of the trial.
        start_s: where they start in the reference.
        reference: (n, channels) at 48 kHz, full scale +-1.
        capture: likewise, as many frames and channels.
        loudness_lkfs: of both.
        gains_db: what brought reference and capture to it.
    """

    trial: int
    start_s: float
    reference: Samples
    capture: Samples
    loudness_lkfs: float
    gains_db: tuple[float, float]

    @property
    def seconds(self) -> float:
        """How long both last."""
        return len(self.reference) / RATE_HZ

    def view(self) -> dict[str, Any]:
        """What is told of it."""
        return {
            "trial": self.trial,
            "start_s": self.start_s,
            "seconds": self.seconds,
            "rate_hz": RATE_HZ,
            "channels": self.reference.shape[1],
            "loudness_lkfs": self.loudness_lkfs,
            "reference_gain_db": self.gains_db[0],
            "capture_gain_db": self.gains_db[1],
        }

    def wav(self, part: str, rng: np.random.Generator) -> bytes:
        """The clip `reference` or `capture` as a 24-bit WAV file, with dither of its own.

        Triangular dither of one step either way [Lipshitz1992]: no two files are the same bytes, whatever they hold.
        """
        clip = self.reference if part == "reference" else self.capture
        dither = (rng.random(clip.shape) - rng.random(clip.shape)) * _STEP
        return wav_bytes(clip + dither, RATE_HZ)


def excerpt(store: Store, name: str, number: int, window: Window) -> Excerpt:
    """Cut, align and level the same seconds of both recordings of a trial.

    Raises:
        NotFound: no such study, trial or recording.
        BadUse: a trial without recordings, or a start behind their end.
        BadInput: nothing is to be heard there.
    """
    state = fold(store.events(name))
    state.study.trial(number)
    details = state.details.get(number, {})
    if "capture" not in details:
        raise BadUse(f"Trial {number} of {name} has no recordings.", "Name a trial that was handed over as a take.")
    sounds = [open_recording(store.audio.path(details[part]["sha256"])) for part in ("reference", "capture")]
    start_s = _loudest(sounds[0], window.seconds) if window.start_s is None else window.start_s
    if start_s >= sounds[0].duration_s:
        raise BadUse(
            f"The reference of trial {number} lasts {sounds[0].duration_s:.1f} s.", "Start the excerpt before its end."
        )
    lag_s = _lag_s(details, start_s)
    early_s = max(0.0, -(start_s + lag_s))
    clips = [
        _section(sounds[0], start_s + early_s, window.seconds),
        _section(sounds[1], start_s + early_s + lag_s, window.seconds) * float(details.get("polarity", 1)),
    ]
    levelled, loudness, gains = _levelled(*_alike(*clips))
    return Excerpt(number, start_s + early_s, *levelled, loudness, gains)


def _lag_s(details: Mapping[str, Any], start_s: float) -> float:
    """By how much the capture lies later than the reference at that instant."""
    return float(details.get("delay_ms", 0.0)) / 1000.0 + start_s * float(details.get("drift_ppm", 0.0)) * 1e-6


def _section(sound: StoredSound, start_s: float, seconds: float) -> Samples:
    """(n, channels) at 48 kHz; shorter where the recording ends."""
    import soxr

    first, count = round(start_s * sound.rate_hz), round(seconds * sound.rate_hz)
    pieces = [piece for piece in _between(sound, first, first + count) if len(piece)]
    samples = np.concatenate(pieces) if pieces else np.zeros((0, sound.channels))
    if sound.rate_hz == RATE_HZ or not len(samples):
        return samples
    return np.asarray(soxr.resample(samples, sound.rate_hz, RATE_HZ, quality="VHQ"))


def _between(sound: StoredSound, first: int, end: int) -> Iterator[Samples]:
    done = 0
    for block in sound.blocks():
        yield block[max(0, first - done) : max(0, end - done)]
        done += len(block)
        if done >= end:
            return


def _loudest(sound: StoredSound, seconds: float) -> float:
    """Where so many seconds hold the most power, to a tenth of a second."""
    step = max(1, sound.rate_hz // 10)
    powers: list[float] = []
    rest = np.zeros(0)
    for block in sound.blocks():
        rest = np.concatenate([rest, np.mean(np.square(block), axis=1)])
        whole = len(rest) // step
        powers += rest[: whole * step].reshape(whole, step).sum(axis=1).tolist()
        rest = rest[whole * step :]
    width = max(1, round(seconds * sound.rate_hz / step))
    if len(powers) <= width:
        return 0.0
    running = np.concatenate([[0.0], np.cumsum(powers)])
    return int(np.argmax(running[width:] - running[:-width])) * step / sound.rate_hz


def _alike(reference: Samples, capture: Samples) -> tuple[Samples, Samples]:
    """Both with as many frames, and one or two channels."""
    frames = min(len(reference), len(capture))
    if frames < SHORTEST_S * RATE_HZ / 2:
        raise BadInput("The two recordings share no sound there.", "Start the excerpt elsewhere.")
    clips = [reference[:frames], capture[:frames]]
    if reference.shape[1] != capture.shape[1] or reference.shape[1] > 2:
        clips = [clip.mean(axis=1, keepdims=True) for clip in clips]
    ramp = np.minimum(1.0, np.minimum(np.arange(frames), np.arange(frames)[::-1]) / (FADE_S * RATE_HZ))
    return clips[0] * ramp[:, None], clips[1] * ramp[:, None]


def _levelled(reference: Samples, capture: Samples) -> tuple[tuple[Samples, Samples], float, tuple[float, float]]:
    """Both at the reference's loudness [BS1770], or below it as far as a peak demands."""
    loudness = [loudness_lkfs(clip, RATE_HZ) for clip in (reference, capture)]
    if not np.all(np.isfinite(loudness)):
        raise BadInput("There is next to nothing to hear there.", "Start the excerpt elsewhere.")
    gains = [loudness[0] - level for level in loudness]
    peaks = [decibels_from_ratio(float(np.max(np.abs(clip)))) for clip in (reference, capture)]
    lower = min(0.0, *(HIGHEST_PEAK_DB - peak - gain for peak, gain in zip(peaks, gains, strict=True)))
    by = (gains[0] + lower, gains[1] + lower)
    return (reference * ratio_from_decibels(by[0]), capture * ratio_from_decibels(by[1])), loudness[0] + lower, by
