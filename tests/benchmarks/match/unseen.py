"""Faults on which nothing was tuned: written down, with the chains and sounds they are done to, before any was tried.

Nothing of the measure may be chosen by what these cases say; a family by which something was is named in
`SEEN_SINCE`.
"""

from typing import Final

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.ndimage import maximum_filter1d
from scipy.signal import lfilter

from tests.benchmarks.match.chains import CHAINS, RATE_HZ, Chain, Sound, Spectrum, bell
from tests.benchmarks.match.faults import Family, Playing, envelope, loud_rms, smoothed

WOBBLE_HZ: Final = 5.0
SHAKE_HZ: Final = 6.0

SAG_S: Final = 0.3
"""Seconds in which a supply that sagged under a loud note comes back to 1/e."""

HELD_SAMPLES: Final = 480
SLAP_S: Final = 0.025
ROOM_HZ: Final = (100.0, 8000.0)
ROOM_KNOTS: Final = 14

UNSEEN_CHAINS: Final[dict[str, Chain]] = {
    "riffs-short": CHAINS["two stages, dark"],
    "others-short": CHAINS["hard clipper, bright"],
}
"""Chain by source; neither was used for the other faults."""

UNSEEN_DRIVE: Final = 10.0

SEEN_SINCE: Final = ("wobble",)
"""Families that changed the measure after all: version 4 weighs the residual less because a few cents of wobble, which
hardly anybody hears, cost as much as a wrong amp."""


def wobbling(sound: Sound, cents: float) -> Sound:
    """Its pitch up and down by so many cents, five times a second."""
    time_s = np.arange(sound.size) / RATE_HZ
    reach = (2.0 ** (cents / 1200.0) - 1.0) / (2 * np.pi * WOBBLE_HZ)
    late = time_s + reach * np.sin(2 * np.pi * WOBBLE_HZ * time_s)
    return np.asarray(CubicSpline(time_s, sound)(late))


def sagging(sound: Sound, size_db: float) -> Sound:
    """Turned down by up to so many dB after loud sound, which comes back slowly."""
    decay = np.exp(-1.0 / (SAG_S * RATE_HZ))
    drawn = lfilter([1.0 - decay], [1.0, -decay], envelope(sound))
    return np.asarray(sound * 10.0 ** (-size_db * drawn / np.max(drawn) / 20.0))


def crossed_over(sound: Sound, share: float) -> Sound:
    """Nothing comes through round zero, over this share of the loud parts' level."""
    dead = share * loud_rms(sound)
    return np.asarray(np.sign(sound) * np.maximum(np.abs(sound) - dead, 0.0))


def cut_below(hertz: Sound, corner_hz: float) -> Spectrum:
    """A second-order high-pass, -3 dB at the corner."""
    ratio = 1j * hertz / corner_hz
    return np.asarray(ratio**2 / (1 + np.sqrt(2) * ratio + ratio**2))


def smeared(hertz: Sound, sections: float) -> Spectrum:
    """So many first-order all-passes at 1 kHz in a row."""
    section = (1.0 - 1j * hertz / 1000.0) / (1.0 + 1j * hertz / 1000.0)
    return np.asarray(section**sections)


def shaken(sound: Sound, depth: float) -> Sound:
    """Its level up and down six times a second."""
    time_s = np.arange(sound.size) / RATE_HZ
    return np.asarray(sound * (1.0 - depth * (0.5 + 0.5 * np.sin(2 * np.pi * SHAKE_HZ * time_s))))


def with_dry(playing: Playing, size_db: float) -> Sound:
    """The dry sound mixed in, so many dB against the loud parts."""
    dry = playing.dry * loud_rms(playing.sound) / loud_rms(playing.dry)
    return np.asarray(playing.sound + dry[: playing.sound.size] * 10.0 ** (size_db / 20.0))


def limited(sound: Sound, size_db: float) -> Sound:
    """Peaks turned down, without flat tops, to so many dB below the highest."""
    top = np.max(np.abs(sound)) * 10.0 ** (-size_db / 20.0)
    over = maximum_filter1d(np.maximum(np.abs(sound) / top, 1.0), 2 * HELD_SAMPLES + 1)
    return np.asarray(sound * smoothed(1.0 / over, HELD_SAMPLES))


def other_room(playing: Playing, size_db: float) -> Sound:
    """Through a smooth response that goes up and down at random, so many dB in the root mean square."""
    knots_db = np.random.default_rng(playing.seed).normal(size=ROOM_KNOTS)
    knots_db *= size_db / np.sqrt(np.mean(knots_db**2))
    knots_hz = np.geomspace(*ROOM_HZ, ROOM_KNOTS)

    def response(hertz: Sound) -> Spectrum:
        curve_db = np.interp(np.log(np.maximum(hertz, 1.0)), np.log(knots_hz), knots_db)
        return np.asarray(10.0 ** (curve_db / 20.0), dtype=np.complex128)

    return playing.filtered(response)


def with_octave(sound: Sound, size_db: float) -> Sound:
    """The sound folded up at zero mixed in, an octave higher, so many dB against the loud parts."""
    folded = np.abs(sound) - np.mean(np.abs(sound))
    return np.asarray(sound + folded * loud_rms(sound) / loud_rms(folded) * 10.0 ** (size_db / 20.0))


def slapped(sound: Sound, size_db: float) -> Sound:
    """The sound once more, 25 ms later."""
    late = round(SLAP_S * RATE_HZ)
    return np.asarray(sound + 10.0 ** (size_db / 20.0) * np.concatenate([np.zeros(late), sound[:-late]]))


UNSEEN: Final = (
    Family("wobble", (2, 6, 20), "cents", lambda playing, size: wobbling(playing.sound, size), None),
    Family(
        "sag", (1, 3, 6), "dB", lambda playing, size: sagging(playing.sound, size), r"10 dB of playing becomes|attack"
    ),
    Family(
        "crossover", (0.03, 0.1, 0.3), "", lambda playing, size: crossed_over(playing.sound, size),
        "distorted|different character|gate",
    ),
    Family(
        "high-pass", (120, 250, 500), "Hz", lambda playing, size: playing.filtered(lambda f: cut_below(f, size)),
        "thin|lean",
    ),
    Family(
        "resonance", (3, 6, 12), "dB",
        lambda playing, size: playing.filtered(lambda f: bell(f, 2200.0, size, 6.0)), "[Pp]eak at|harsh|nasal|honk",
    ),
    Family("tremolo", (0.1, 0.3, 0.6), "", lambda playing, size: shaken(playing.sound, size), None),
    Family("smear", (8, 30, 100), "sections", lambda playing, size: playing.filtered(lambda f: smeared(f, size)), None),
    Family("dry blend", (-24, -14, -6), "dB", with_dry, "less distorted|not distorted enough"),
    Family(
        "limiter", (3, 6, 12), "dB", lambda playing, size: limited(playing.sound, size),
        "10 dB of playing becomes|attack",
    ),
    Family("other room", (1, 3, 6), "dB", other_room, None),
    Family(
        "octave", (-30, -20, -10), "dB", lambda playing, size: with_octave(playing.sound, size),
        "distorted|different character",
    ),
    Family("slap", (-24, -15, -6), "dB", lambda playing, size: slapped(playing.sound, size), None),
)  # fmt: skip
"""Every fault that was not seen while the measure was made."""
