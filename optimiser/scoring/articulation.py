"""How well single notes stand apart inside the distortion.

More distortion and richer chords lower sensory consonance together [Herbst2018] [Herbst2019]; no published index of it
for a distorted guitar was found. The scale here is ours, drawn from toy amps, and no listening test stands behind it.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.scoring.bands import LOUDNESS_EXPONENT
from optimiser.scoring.flatness import NOISE_FLATNESS_DB
from optimiser.scoring.frames import TimeMap
from optimiser.scoring.passages import Located
from optimiser.scoring.recording import WORKING_RATE_HZ, Samples
from optimiser.scoring.track import Track

DYAD_HZ: Final = (196.0, 233.0)
"""Hz. About G3 and B flat 3, a minor third, in whole hertz: every product of the two falls on a bin of one second, and
none is a harmonic of both below 45 kHz."""

DYAD_RANGE_HZ: Final = (40, 6000)
"""Hz between which harmonics and other products of the dyad are counted (measured on toy amps)."""

HEARD_RANGE_DB: Final = 40.0
"""dB below the loudest frame, above which frames of a riff count (ours)."""

FILL_SCALE_DB: Final = (NOISE_FLATNESS_DB, -18.0)
"""dB of flatness inside octaves that stand for 0 (noise) and 100 (a nearly clean toy amp)."""

DYAD_SCALE_DB: Final = (0.0, 40.0)
"""dB of harmonics over other products that stand for 0 and 100 (a nearly clean toy amp)."""

ATTACK_SCALE_DB: Final = (-2.0, 6.0)
"""dB of attack over body that stand for 0 and 100 (ours)."""

WEIGHTS: Final = (0.4, 0.4, 0.2)
"""Share of fill, dyad and attack in the whole (ours, no source)."""


@dataclass(frozen=True)
class Articulation:
    """What is known of one recording's separation of notes.

    Attributes:
        fill_db: flatness inside octaves on riffs, None when no riff is heard.
        dyad_db: harmonics over other products of the dyad, None when there is none.
        attack_db: mean attack over body, None when no note stands alone.
    """

    fill_db: float | None
    dyad_db: float | None
    attack_db: float | None

    @property
    def score(self) -> float:
        """0 to 100: the mean of the figures that are known, on their scales."""
        total, weights = 0.0, 0.0
        known = zip((self.fill_db, self.dyad_db, self.attack_db), _SCALES, WEIGHTS, strict=True)
        for value, (nothing, everything), weight in known:
            if value is not None:
                total += weight * float(np.clip((value - nothing) / (everything - nothing), 0.0, 1.0))
                weights += weight
        return 100.0 * total / weights if weights else 0.0


_SCALES: Final = (FILL_SCALE_DB, DYAD_SCALE_DB, ATTACK_SCALE_DB)


def fill_db(flatness_db: Samples, level_db: Samples, time_s: Samples, located: Located | None) -> float | None:
    """Flatness inside octaves over the riffs, every frame by its loudness.

    Args:
        flatness_db: (frames,) of long frames.
        level_db: (frames,) their levels.
        time_s: (frames,) their middles in the reference.
        located: where the riffs lie; without it, everything that is heard counts.
    """
    counted = level_db > level_db.max() - HEARD_RANGE_DB
    if located is not None:
        counted &= located.within(time_s, "riff")
    if not counted.any():
        return None
    loudness = 10.0 ** (LOUDNESS_EXPONENT * (level_db[counted] - level_db.max()))
    return float(np.average(flatness_db[counted], weights=loudness))


def dyad_db(track: Track, time_map: TimeMap, located: Located | None) -> float | None:
    """Harmonics over other products of the dyad in the middle second of its passage.

    Args:
        track: the recording.
        time_map: from the reference to it.
        located: where the dyad lies in the reference.

    Returns:
        dB, None without a dyad of one second within the recording.
    """
    passages = () if located is None else located.layout.of_kind("dyad")
    if located is None or not passages or passages[0].duration_s < 1.0:
        return None
    middle_s = located.start_s + (passages[0].start_s + passages[0].end_s) / 2
    first, last = (
        round(float(time_map.capture_position(np.array((middle_s + half) * WORKING_RATE_HZ)))) for half in (-0.5, 0.5)
    )
    if first < 0 or last > track.size:
        return None
    return harmonics_over_products_db(track.piece(first, last).astype(np.float64))


def harmonics_over_products_db(second: Samples) -> float:
    """Energy at multiples of the dyad's two notes over all else between 40 and 6000 Hz, in dB.

    Args:
        second: (n,) one second of sound, at any rate above 12 kHz.
    """
    low, high = DYAD_RANGE_HZ
    power = np.abs(np.fft.rfft(second)) ** 2
    hertz = np.arange(low, high + 1)
    harmonic = np.any([hertz % note == 0 for note in DYAD_HZ], axis=0)
    inside = power[low : high + 1]
    tiny = 1e-12 * float(inside.sum()) + np.finfo(np.float64).tiny
    return float(10.0 * np.log10((inside[harmonic].sum() + tiny) / (inside[~harmonic].sum() + tiny)))
