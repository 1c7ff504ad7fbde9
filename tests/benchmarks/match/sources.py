"""Dry guitar to play through the toy chains: strings that are worked out, and two packages of recorded guitar.

The recordings are not part of this project. `sonic-pi-samples` is a Debian package (clips under CC0), `guitarsounds` a
source archive of the Python package index (notes of two acoustic guitars, MIT). A folder that is not there is left out.
"""

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.audio import build_reel
from optimiser.rehearsal import LEARNING_RIFFS, play_riff
from optimiser.rehearsal.riffs import SCORES
from optimiser.scoring import ReelLayout
from tests.benchmarks.match.chains import RATE_HZ, Sound

PEAK: Final = 0.45
GAP_S: Final = 0.7
LEAD_S: Final = 0.5
FADE_S: Final = 0.05
STRUM_S: Final = 0.05
"""Strokes closer than this are one strum and start together."""

SHORT_RIFFS: Final = ("chugs", "run")
OTHER_RIFFS: Final = ("held chord", "two-note")
LONG_TAKE_S: Final = 30.0
SHORT_TAKE_S: Final = 12.0

CLIPS_FOLDER: Final = "OPTIMISER_CLIPS"
"""Environment variable: folder of guit_*.flac. Without it, where the Debian package puts them."""

CLIPS_INSTALLED: Final = Path("/usr/share/sonic-pi/samples")

NOTES_FOLDER: Final = "OPTIMISER_NOTES"
"""Environment variable: the folder example_sounds of the unpacked guitarsounds archive."""

CLIPS: Final = ("guit_e_fifths.flac", "guit_e_slide.flac", "guit_em9.flac", "guit_harmonics.flac")
NOTES: Final = (
    "Carbon_Guitar/Carbon_A5.wav",
    "Carbon_Guitar/Carbon_D4.wav",
    "Carbon_Guitar/Carbon_E6.wav",
    "Wood_Guitar/Wood_B2.wav",
    "Wood_Guitar/Wood_E1.wav",
    "Wood_Guitar/Wood_G3.wav",
)


OTHER_NOTES: Final = (
    "Carbon_Guitar/Carbon_B2.wav",
    "Carbon_Guitar/Carbon_E1.wav",
    "Carbon_Guitar/Carbon_G3.wav",
    "Wood_Guitar/Wood_A5.wav",
    "Wood_Guitar/Wood_D4.wav",
    "Wood_Guitar/Wood_E6.wav",
)


@dataclass(frozen=True, eq=False)
class Source:
    """Something dry to play.

    Attributes:
        name: `reel`, `clips` or `notes`, with `-short` for the version of some 12 s.
        dry: (n,) at 48 kHz.
        starts: sample on which every note or strum starts.
        layout: where the reel's passages lie; None for recorded guitar.
    """

    name: str
    dry: Sound
    starts: tuple[int, ...]
    layout: ReelLayout | None = None


SOURCES: Final = (
    *("reel", "reel-short", "clips", "clips-short", "notes", "notes-short"),
    *("riffs-short", "others-short"),
)
"""On the last two only what nothing was tuned on is played."""


STRINGS: Final = {"reel": LEARNING_RIFFS, "reel-short": SHORT_RIFFS, "riffs-short": OTHER_RIFFS}
"""Riffs of each source that is worked out."""


def missing(name: str, environment: Mapping[str, str] = os.environ) -> str | None:
    """Why a source cannot be had here, or None."""
    files, folder = _recorded(name, environment)
    if all((folder / file).is_file() for file in files):
        return None
    variable = CLIPS_FOLDER if name.startswith("clips") else NOTES_FOLDER
    return f"{name} left out: {files[0]} and the like are not in the folder that {variable} names"


def _recorded(name: str, environment: Mapping[str, str]) -> tuple[Sequence[str], Path]:
    if name.startswith("clips"):
        return CLIPS, Path(environment.get(CLIPS_FOLDER, CLIPS_INSTALLED))
    notes = {"notes": NOTES, "others": OTHER_NOTES}.get(name.removesuffix("-short"), ())
    return notes, Path(environment.get(NOTES_FOLDER, "."))


@lru_cache(maxsize=len(SOURCES))
def source(name: str) -> Source:
    """One of `SOURCES`; a recorded one needs its folder."""
    short = name.endswith("-short")
    if name in STRINGS:
        return _reel(name, STRINGS[name])
    files, folder = _recorded(name, os.environ)
    limit_s = SHORT_TAKE_S if short else LONG_TAKE_S
    dry = joined([read_clip(folder / file) for file in files], limit_s)
    return Source(name, dry, tuple(rises(dry)))


def _reel(name: str, riffs: Sequence[str]) -> Source:
    reel = build_reel({riff: play_riff(riff) for riff in riffs}, riffs, "proof", RATE_HZ)
    samples, layout = reel.samples, reel.layout
    if name.endswith("-short"):
        samples, layout = without_test_sounds(samples, layout)
    starts: list[float] = []
    for passage in layout.passages:
        if passage.kind == "riff":
            strokes = SCORES[passage.name.rsplit(" ", 1)[0]]
            starts += _strums(passage.start_s + stroke.start_s for stroke in strokes)
        elif passage.kind in ("chord", "dyad"):
            starts.append(passage.start_s)
    dry = samples * (PEAK / np.max(np.abs(samples)))
    return Source(name, dry, tuple(round(start_s * RATE_HZ) for start_s in starts), layout)


def without_test_sounds(samples: Sound, layout: ReelLayout) -> tuple[Sound, ReelLayout]:
    """A reel without its marker and dyad, which others would listen to and the measure does not."""
    kept, passages, at_s = [], [], 0.0
    for passage in layout.passages:
        if passage.kind not in ("marker", "dyad"):
            kept.append(samples[round(passage.start_s * RATE_HZ) : round(passage.end_s * RATE_HZ)])
            passages.append(replace(passage, start_s=at_s, end_s=at_s + kept[-1].size / RATE_HZ))
            at_s = passages[-1].end_s
    return np.concatenate(kept), ReelLayout(tuple(passages))


def _strums(starts_s: Iterator[float]) -> list[float]:
    ordered = sorted(starts_s)
    return ordered[:1] + [later for earlier, later in pairwise(ordered) if later - earlier > STRUM_S]


def read_clip(path: Path) -> Sound:
    """The left channel of a file at 48 kHz from 20 ms before its first sound on, peak 0.45."""
    import soundfile
    import soxr

    samples, rate_hz = soundfile.read(path, always_2d=True)
    sound = np.asarray(soxr.resample(samples[:, 0], rate_hz, RATE_HZ), dtype=np.float64)
    sound *= PEAK / np.max(np.abs(sound))
    first = int(np.argmax(np.abs(sound) > 0.05 * PEAK))
    return sound[max(0, first - RATE_HZ // 50) :]


def joined(clips: Sequence[Sound], limit_s: float) -> Sound:
    """Clips one after the other with rests of 0.7 s, each cut to an equal share of the limit and faded out."""
    gap, fade = np.zeros(round(GAP_S * RATE_HZ)), round(FADE_S * RATE_HZ)
    share = round((limit_s - LEAD_S) / len(clips) * RATE_HZ) - gap.size
    pieces = [np.zeros(round(LEAD_S * RATE_HZ))]
    for clip in clips:
        piece = clip[:share].copy()
        piece[-fade:] *= np.linspace(1.0, 0.0, fade)
        pieces += [piece, gap]
    return np.concatenate(pieces)


def rises(dry: Sound) -> list[int]:
    """Samples on which a note starts: the energy of the next 20 ms is 6 dB above that of the 45 ms until 5 ms before.

    The place of the steepest rise counts, at most one in 80 ms, and only where it is within 35 dB of the loudest.
    """
    step = RATE_HZ // 1000
    at = np.arange(50 * step, dry.size - 20 * step, step)
    after, before = _energy(dry, at, at + 20 * step), _energy(dry, at - 50 * step, at - 5 * step)
    rise = np.where(after > np.max(after) * 10.0**-3.5, after / (before + 1e-7), 0.0)
    starts: list[int] = []
    for place in np.flatnonzero(rise > 10.0**0.6):
        steepest = rise[place] == np.max(rise[max(0, place - 40) : place + 41])
        if steepest and (not starts or at[place] - starts[-1] > 80 * step):
            starts.append(int(at[place]))
    return starts


def _energy(sound: Sound, first: NDArray[np.int_], last: NDArray[np.int_]) -> NDArray[np.float64]:
    running = np.concatenate([[0.0], np.cumsum(sound**2)])
    return np.asarray((running[last] - running[first]) / (last - first))
