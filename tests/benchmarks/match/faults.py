"""Faults of a capture, each of a size that is known, and the words that would name each.

The words were written down before any was tried; a fault counts as named when the first line of advice holds one.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from scipy.fft import next_fast_len

from tests.benchmarks.match.chains import RATE_HZ, Chain, Response, Sound, Spectrum, bell, high_pass, low_pass, through

CAPTURE_SEED: Final = 2
"""Seed of the capture's own noise; the reference has 1."""

TILT_OCTAVES: Final = 5.0
"""A tilt of n dB rises by n dB over these octaves."""

ENVELOPE_SAMPLES: Final = 2400
"""50 ms, over which a compressor's or gate's level is taken."""

RING_S: Final = 0.25
"""Seconds in which the tail of `rings on` falls to 1/e."""

FOLD: Final = 4
"""`aliasing` keeps every fourth sample of a harder clipped sound without a filter, so that it folds at 6 kHz."""


@dataclass(frozen=True, eq=False)
class Playing:
    """What a fault is done to.

    Attributes:
        dry: (n,) the dry sound.
        starts: sample on which every note starts.
        chain: that plays it.
        seed: of whatever the fault draws.
    """

    dry: Sound
    starts: tuple[int, ...]
    chain: Chain
    seed: int

    @cached_property
    def sound(self) -> Sound:
        """The capture without the fault."""
        return self.chain.play(self.dry, CAPTURE_SEED)

    def filtered(self, response: Response) -> Sound:
        """The capture through one more filter."""
        return through(self.sound, response)

    def played_by(self, chain: Chain) -> Sound:
        """The capture of another chain."""
        return chain.play(self.dry, CAPTURE_SEED)


@dataclass(frozen=True, eq=False)
class Family:
    """One kind of fault.

    Attributes:
        name: what it is called.
        sizes: from hardly there to gross.
        unit: of the sizes.
        apply: makes the capture with the fault of one size.
        words: a pattern of the words that name it, None where none is expected.
    """

    name: str
    sizes: tuple[float, ...]
    unit: str
    apply: Callable[[Playing, float], Sound]
    words: str | None


def tilt(hertz: Sound, size_db: float) -> Sound:
    """A straight slope over the octaves, 0 dB at 1 kHz, level below 20 Hz."""
    return np.asarray(10.0 ** (size_db / TILT_OCTAVES * np.log2(np.maximum(hertz, 20.0) / 1000.0) / 20.0))


def shelf_below(hertz: Sound, corner_hz: float, cut_db: float) -> Spectrum:
    """A first-order shelf that takes away below the corner."""
    ratio = 1j * hertz / corner_hz
    return np.asarray((ratio + 10.0 ** (-cut_db / 20.0)) / (ratio + 1.0))


def all_pass(hertz: Sound, turn_hz: float) -> Spectrum:
    """A first-order all-pass; a quarter turn at its frequency."""
    return np.asarray((1.0 - 1j * hertz / turn_hz) / (1.0 + 1j * hertz / turn_hz))


def loud_rms(sound: Sound) -> float:
    """Root mean square of the samples within 40 dB of the peak."""
    return float(np.sqrt(np.mean(sound[np.abs(sound) > 1e-2 * np.max(np.abs(sound))] ** 2)))


def envelope(sound: Sound) -> Sound:
    """Root mean square over the 50 ms round every sample, relative to its largest."""
    half = ENVELOPE_SAMPLES // 2
    running = np.concatenate([[0.0], np.cumsum(np.pad(sound, half) ** 2)])
    mean = (running[ENVELOPE_SAMPLES:] - running[:-ENVELOPE_SAMPLES])[: sound.size] / ENVELOPE_SAMPLES
    level = np.sqrt(np.maximum(mean, 0.0))
    return np.asarray(level / np.max(level))


def smoothed(curve: Sound, samples: int) -> Sound:
    """A curve averaged over a Hann window of so many samples."""
    window = np.hanning(samples + 2)
    return np.asarray(np.convolve(curve, window / window.sum(), "same"))


def soft_attack(playing: Playing, size_db: float) -> Sound:
    """The first 20 ms of every note lowered; the change itself takes 10 ms and is half done 5 ms before the note."""
    gain_db = np.zeros(playing.sound.size)
    for start in playing.starts:
        gain_db[max(0, start - 240) : start + 960] = -size_db
    return np.asarray(playing.sound * 10.0 ** (smoothed(gain_db, 481) / 20.0))


def compressed(sound: Sound, ratio: float) -> Sound:
    """A level of n dB below the loudest becomes n / ratio, down to 60 dB."""
    return np.asarray(sound * np.maximum(envelope(sound), 1e-3) ** (1.0 / ratio - 1.0))


def gated(sound: Sound, threshold_db: float) -> Sound:
    """Closed where the level lies below the threshold, against the loudest; it takes 10 ms to open or close."""
    opened = np.where(20.0 * np.log10(envelope(sound) + 1e-12) > threshold_db, 1.0, 0.0)
    return np.asarray(sound * smoothed(opened, 480))


def noisy(playing: Playing, ratio_db: float) -> Sound:
    """White noise at this signal-to-noise ratio, against the loud parts."""
    noise = np.random.default_rng(playing.seed).normal(size=playing.sound.size)
    return np.asarray(playing.sound + noise * loud_rms(playing.sound) * 10.0 ** (-ratio_db / 20.0))


def reflected(sound: Sound, size_db: float) -> Sound:
    """The sound again, 0.5 ms later."""
    return np.asarray(sound + 10.0 ** (size_db / 20.0) * np.concatenate([np.zeros(24), sound[:-24]]))


def clipped(sound: Sound, size_db: float) -> Sound:
    """Flat tops so many dB below the peak."""
    top = np.max(np.abs(sound)) * 10.0 ** (-size_db / 20.0)
    return np.asarray(np.clip(sound, -top, top))


def ringing_tail(size_db: float, seed: int) -> Sound:
    """(n,) noise that dies away, its energy so many dB against the direct sound."""
    time_s = np.arange(round(6.0 * RING_S * RATE_HZ)) / RATE_HZ
    tail = np.random.default_rng(seed).normal(size=time_s.size) * np.exp(-time_s / RING_S)
    return np.asarray(tail * 10.0 ** (size_db / 20.0) / np.sqrt(np.sum(tail**2)))


def ringing(playing: Playing, size_db: float) -> Sound:
    """The sound with a tail of its own."""
    tail, sound = ringing_tail(size_db, playing.seed), playing.sound
    size = next_fast_len(sound.size + tail.size, real=True)
    wet = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(tail, size), size)
    return np.asarray(sound + wet[: sound.size])


def folded(sound: Sound) -> Sound:
    """What folds back when every fourth sample is kept without a filter, and nothing else."""
    import soxr

    slow_hz = RATE_HZ // FOLD
    kept = soxr.resample(sound[::FOLD], slow_hz, RATE_HZ)
    clean = soxr.resample(soxr.resample(sound, RATE_HZ, slow_hz), slow_hz, RATE_HZ)
    products = np.zeros(sound.size)
    length = min(sound.size, kept.size, clean.size)
    products[:length] = kept[:length] - clean[:length]
    return products


def aliasing(playing: Playing, size_db: float) -> Sound:
    """Folded products of a harder clipper before the loudspeaker, so many dB against the sound."""
    chain = playing.chain
    bare = replace(chain, drive=4.0 * chain.drive, knee="hard", cabinet_hz=20_000.0)
    products = folded(playing.played_by(bare))
    heard = through(products, lambda hertz: low_pass(hertz, chain.cabinet_hz) ** 2 * high_pass(hertz, 60.0))
    return np.asarray(playing.sound + heard * loud_rms(playing.sound) / loud_rms(heard) * 10.0 ** (size_db / 20.0))


def _filter(response: Callable[[Sound, float], Sound | Spectrum]) -> Callable[[Playing, float], Sound]:
    return lambda playing, size: playing.filtered(lambda hertz: np.asarray(response(hertz, size), dtype=np.complex128))


def _own(change: Callable[[Sound, float], Sound]) -> Callable[[Playing, float], Sound]:
    return lambda playing, size: change(playing.sound, size)


def _chain(change: Callable[[Chain, float], Chain]) -> Callable[[Playing, float], Sound]:
    return lambda playing, size: playing.played_by(change(playing.chain, size))


_LESS, _MORE = "less distorted|not distorted enough", "more distorted|too distorted"

FAMILIES: Final = (
    Family("tilt", (0.5, 1, 2, 4, 8), "dB", _filter(tilt), "bright"),
    Family("thin", (1, 2, 4, 8), "dB", _filter(lambda f, size: shelf_below(f, 250.0, size)), "thin|lean"),
    Family("harsh", (1, 2, 4, 8), "dB", _filter(lambda f, size: bell(f, 4000.0, size, 1.0)), "harsh|bright"),
    Family(
        "notch", (3, 6, 12, 24), "dB", _filter(lambda f, size: bell(f, 1000.0, -size, 4.0)),
        r"dip at (794|1000|1259)|recessed|nasal|boxy|hollow",
    ),
    Family("low-pass", (7000, 5000, 3500, 2500), "Hz", _filter(lambda f, size: low_pass(f, size) ** 2), "dark|dull"),
    Family("soft attack", (1, 2, 4, 8), "dB", soft_attack, "attack softened"),
    Family("compression", (1.1, 1.25, 1.5, 2, 4), ":1", _own(compressed), r"10 dB of playing becomes -?\d\.\d"),
    Family("noise", (60, 50, 40, 30, 20), "dB", noisy, "noisier"),
    Family("gate", (-50, -40, -30, -20), "dB", _own(gated), "gate"),
    Family("less drive", (0.9, 0.8, 0.6, 0.4, 0.2), "times", _chain(Chain.driven), _LESS),
    Family("more drive", (1.1, 1.25, 1.6, 2.5, 5), "times", _chain(Chain.driven), _MORE),
    Family(
        "bias", (0.2, 0.3, 0.5, 0.8), "", _chain(lambda chain, size: replace(chain, bias=size)),
        "different character|more distorted",
    ),
    Family(
        "brighter cabinet", (5600, 6500, 8000), "Hz", _chain(lambda chain, size: replace(chain, cabinet_hz=size)),
        "fizzy|bright|harsh",
    ),
    Family("reflection", (-18, -12, -6, -3), "dB", _own(reflected), "recessed|hollow|dip|peak|comb"),
    Family("hard clip", (1, 3, 6, 9), "dB", _own(clipped), f"{_MORE}|fizzy|different character|clipped"),
    Family("boomy", (1, 2, 4, 8, 12), "dB", _filter(lambda f, size: bell(f, 110.0, size, 1.2)), "boomy|thick"),
    Family("rings on", (-36, -30, -24, -18, -12), "dB", ringing, r"\bring"),
    Family("aliasing", (-40, -32, -25, -18, -10), "dB", aliasing, "different character|more distorted"),
)  # fmt: skip
"""Every fault that should cost the more the larger it is."""

ALL_PASS: Final = Family("all-pass", (200, 700), "Hz", _filter(all_pass), None)
"""Turns the phase alone, which is hardly heard."""
