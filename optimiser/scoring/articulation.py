"""How well single notes stand apart inside the distortion.

More distortion and richer chords lower sensory consonance together [Herbst2018] [Herbst2019]; no published index of it
for a distorted guitar was found. The scale here is ours, drawn from toy chains, and no listening test stands behind it.

Every figure compares sounds that lie close together in frequency, so that a change of tone does not count.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.scoring.bands import LOUDNESS_EXPONENT
from optimiser.scoring.frames import TimeMap
from optimiser.scoring.passages import Located
from optimiser.scoring.recording import WORKING_RATE_HZ, Samples
from optimiser.scoring.track import Track

DYAD_HZ: Final = (196.0, 233.0)
"""Hz. About G3 and B flat 3, a minor third, in whole hertz: every product of the two falls on a bin of one second, and
none is a harmonic of both below 45 kHz."""

PRODUCT_ORDERS: Final = (3, 5, 7)
"""Orders of the intermodulation products that are counted: those next to the two notes, within an octave of them."""

HEARD_RANGE_DB: Final = 30.0
"""dB below the loudest frame of the reference, above which frames of a riff count. In what is softer, hiss of -60 dB
fills gaps of recorded guitar by some 0.2 dB (ours, drawn from toy chains)."""


@dataclass(frozen=True)
class Scale:
    """A logistic curve from a figure to a share between 0 and 1; it has no flat end, so a search always sees a slope.

    Attributes:
        half: the figure that counts half.
        width: by how much the figure must change, there, for the odds to change by e; negative where less is better.
        weight: exponent of the share in the whole.
    """

    half: float
    width: float
    weight: float

    def share(self, figure: float) -> float:
        """1 / (1 + exp(-(figure - half) / width))."""
        return float(1.0 / (1.0 + np.exp(-(figure - self.half) / self.width)))


FILL_SCALE: Final = Scale(-12.5, -1.4, 0.2)
"""dB of flatness: half way between clean and extreme toy chains playing recorded guitar (ours)."""

DYAD_SCALE: Final = Scale(20.0, 4.0, 0.7)
"""dB of notes over products: products a tenth as strong as the notes count half. It weighs most because the dyad is
the same in every reel and does not depend on what is played (ours, drawn from toy chains)."""

ATTACK_SCALE: Final = Scale(2.0, 1.5, 0.1)
"""dB of attack over body: half way between clean and extreme toy chains (ours). It weighs least because it depends
most on what is played."""

LEAST_ARTICULATION: Final = 1.0
"""Points that the wanted tone's articulation counts at least, so that the share kept stays finite (ours)."""

_SCALES: Final = (FILL_SCALE, DYAD_SCALE, ATTACK_SCALE)


@dataclass(frozen=True)
class Articulation:
    """What is known of one recording's separation of notes.

    Attributes:
        fill_db: flatness inside narrow windows on riffs, None when no riff is heard.
        dyad_db: the dyad's notes over the products next to them, None when there is none.
        attack_db: mean attack over body, None when no note stands alone.
    """

    fill_db: float | None
    dyad_db: float | None
    attack_db: float | None

    @property
    def score(self) -> float:
        """0 to 100: the weighted geometric mean of the shares that are known [Derringer1980]; 0 when none is."""
        log_share, weights = 0.0, 0.0
        for figure, scale in zip((self.fill_db, self.dyad_db, self.attack_db), _SCALES, strict=True):
            if figure is not None:
                log_share += scale.weight * float(np.log(scale.share(figure)))
                weights += scale.weight
        return 100.0 * float(np.exp(log_share / weights)) if weights else 0.0


def share_kept(wanted: float, capture: float) -> float:
    """Share of the wanted tone's articulation that a capture keeps, 0 to 1, from the scores of both."""
    return min(1.0, capture / max(wanted, LEAST_ARTICULATION))


def fill_db(flatness_db: Samples, level_db: Samples, time_s: Samples, located: Located | None) -> float | None:
    """Flatness inside narrow windows over the riffs, every frame by its loudness in the reference.

    Args:
        flatness_db: (frames,) of long frames of reference or capture.
        level_db: (frames,) their levels in the reference, so that a change of tone does not choose other frames.
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
    """Notes over products of the dyad in the middle second of its passage.

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
    return notes_over_products_db(track.piece(first, last).astype(np.float64))


def notes_over_products_db(second: Samples) -> float:
    """Power of the dyad's two notes over that of the odd products next to them, in dB.

    The products lie in pairs, one as far below the lower note as the other is above the upper; the geometric mean of
    each pair, against that of the notes, cancels any straight slope of the tone. Further up, harmonics and products
    keep a ratio that says nothing of the drive: the sum tone is always 6 dB above the second harmonics of a square law.
    A dyad clipped flat, a square wave in its beat, has products 1/3, 1/5 and 1/7 as strong as the notes: 7.66 dB.

    Args:
        second: (n,) one second of sound.
    """
    power = np.abs(np.fft.rfft(second)) ** 2
    lower, upper = (round(note) for note in DYAD_HZ)
    steps = np.array([0, *((order - 1) // 2 for order in PRODUCT_ORDERS)]) * (upper - lower)
    notes, *products = np.sqrt(power[lower - steps] * power[upper + steps])
    tiny = 1e-12 * float(notes) + np.finfo(np.float64).tiny
    return float(10.0 * np.log10((notes + tiny) / (np.sum(products) + tiny)))
