"""The seven figures of a pair, of the whole or with one stretch of time left out."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.bands import band_mids_hz, decibels
from optimiser.scoring.coherence import Sums, incoherent_share
from optimiser.scoring.distances import (
    noise_rise_db,
    tone_difference_db,
    tone_distance_db,
)
from optimiser.scoring.dynamics import (
    DYNAMIC_RANGE_DB,
    LOWEST_LEVEL_DB,
    NOISE_DISTANCE_DB,
    TAIL_DB,
    dynamic_distance_db,
    tail_shortfall_db,
)
from optimiser.scoring.evidence import Evidence, playing
from optimiser.scoring.frames import SHORT
from optimiser.scoring.notes import Notes, compare_notes
from optimiser.scoring.passages import Located, quietest
from optimiser.scoring.recording import WORKING_RATE_HZ, Samples
from optimiser.scoring.texture import texture_squares
from optimiser.scoring.track import Track
from optimiser.scoring.weighting import k_power

STRETCHES: Final = 10
"""Stretches of time that are left out one by one to see how sure a score is (common practice, no source)."""

LEAST_REST_S: Final = 0.3
"""Seconds of rest, its beginnings left out, that noise can be judged by (common practice, no source)."""

REST_DEPTH_DB: Final = 35.0
"""dB below the playing that the quietest frames must lie for them to hold noise alone (measured on toy amps)."""

Mask = NDArray[np.bool_]
Kept = Callable[[Samples], Mask]
"""Which instants count, (n,) from (n,) seconds in the reference."""


@dataclass(frozen=True)
class Figures:
    """How far apart a pair lies, part by part.

    Attributes:
        tone: rms third-octave difference in dB.
        dynamics: rms of the dynamic curve in dB.
        attack: rms change of the notes' attack in dB.
        residual: square root of the incoherent share, 0 to 1.
        texture: rms difference of cells of a third octave by some 40 ms, in dB.
        decay: mean shortfall of tails in dB.
        noise: rise of the noise in dB.
    """

    tone: float
    dynamics: float
    attack: float
    residual: float
    texture: float
    decay: float
    noise: float


PARTS: Final = tuple(field.name for field in fields(Figures))


@dataclass(frozen=True, eq=False)
class Traces:
    """A pair's figures over time, from which any stretch can be left out.

    Attributes:
        evidence: the pair.
        sums: cross spectra of what is played.
        played: (blocks,) which blocks of the cross spectra those are of.
        heard: (frames,) long frames that count as playing.
        noise: (26,) noise power of both.
        tone_db: (26,) capture over reference in every band.
        levels_db: (2, frames) levels of the short frames, the capture tone-matched.
        texture: (2, frames) weighted squares and weights of the short frames that count, zero elsewhere.
        notes: when they start and how their attack changes.
        level_mask: (frames,) short frames on the dynamic curve.
        tail_mask: (frames,) short frames in tails.
        noise_rise_db: of the whole; 0 when there is no rest to hear it in.
        rested: whether there is a rest long enough to judge the noise.
    """

    evidence: Evidence
    sums: Sums
    played: Mask
    heard: Mask
    noise: tuple[Samples, Samples]
    tone_db: Samples
    levels_db: tuple[Samples, Samples]
    texture: tuple[Samples, Samples]
    notes: Notes
    level_mask: Mask
    tail_mask: Mask
    noise_rise_db: float
    rested: bool


def whole(time_s: Samples) -> Mask:
    """Every instant counts."""
    return np.ones(time_s.shape, dtype=bool)


def without(traces: Traces, stretch: int) -> Kept:
    """All instants but those of one of ten stretches of time."""
    first_s, last_s = traces.evidence.long.time_s[[0, -1]]

    def kept(time_s: Samples) -> Mask:
        at = np.floor((time_s - first_s) / max(last_s - first_s, 1e-9) * STRETCHES)
        return np.asarray(np.clip(at, 0, STRETCHES - 1) != stretch)

    return kept


def within(first_s: float, last_s: float) -> Kept:
    """The instants of one stretch of the reference."""
    return lambda time_s: (time_s >= first_s) & (time_s < last_s)


def trace(reference: Track, capture: Track, evidence: Evidence, located: Located) -> Traces:
    """Work out everything that does not change when a stretch is left out.

    Args:
        reference: the real chain.
        capture: its capture.
        evidence: of the pair.
        located: where the reel lies in the reference.
    """
    short, long = evidence.short, evidence.long
    rest = located.within(short.time_s, "silence", "rest")
    rested = bool(np.count_nonzero(rest) * (SHORT.hop / WORKING_RATE_HZ) >= LEAST_REST_S)
    rest = rest if rested else quietest(short.levels_db()[0])
    noise = _noise_powers(evidence, rest)
    heard = _heard(long.levels_db()[0], located.played(long.time_s))
    sums = long.reference[heard].sum(axis=0, dtype=np.float64), long.capture[heard].sum(axis=0, dtype=np.float64)
    count = np.count_nonzero(heard)
    tone_db = tone_difference_db(sums[0] / count, sums[1] / count, noise)
    equaliser = 10.0 ** (-tone_db / 10.0)
    plain_db = short.levels_db()
    loudest = float(plain_db[0].max())
    reference_db, capture_db = short.levels_db(equaliser)
    levels_db = reference_db, np.maximum(capture_db, loudest - LOWEST_LEVEL_DB)
    played = located.played(short.time_s)
    clear = played & (levels_db[0] > float(decibels(noise[0] @ k_power(band_mids_hz()))) + NOISE_DISTANCE_DB)
    level_mask = playing(levels_db[0], DYNAMIC_RANGE_DB) & clear
    tail_mask = (levels_db[0] <= loudest - TAIL_DB[0]) & (levels_db[0] > loudest - TAIL_DB[1]) & clear
    loud = _heard(plain_db[0], played)
    playing_power = float(short.reference[loud].sum(axis=1, dtype=np.float64).mean())
    texture = texture_squares((short.reference, short.capture), playing_power, noise[0], played)
    notes = compare_notes(reference, capture, evidence, equaliser)
    blocks = _undisturbed(evidence.cross.middle_s, located)
    return Traces(
        evidence,
        evidence.cross.less(evidence.cross.summed(), ~blocks),
        blocks,
        heard,
        noise,
        tone_db,
        levels_db,
        texture,
        notes,
        level_mask,
        tail_mask,
        _noise_rise_db(plain_db, rest) if rested else 0.0,
        rested,
    )


def _undisturbed(middle_s: Samples, located: Located) -> Mask:
    """Blocks of the cross spectra that no test sound reaches into."""
    half_s = float(np.diff(middle_s).max(initial=0.0)) / 2
    clear = [located.played(middle_s + shift_s) for shift_s in (-half_s, 0.0, half_s)]
    undisturbed = np.asarray(np.all(clear, axis=0))
    return undisturbed if undisturbed.any() else np.ones_like(undisturbed)


def _heard(level_db: Samples, played: Mask) -> Mask:
    """Frames that count as playing; test sounds too where there is nothing else."""
    heard = playing(level_db)
    return heard & played if np.any(heard & played) else heard


def figures_of(traces: Traces, kept: Kept = whole) -> Figures:
    """The seven figures of the instants that count.

    Args:
        traces: of the pair.
        kept: which instants those are; noise is that of the whole in any case.
    """
    long, short = traces.evidence.long, traces.evidence.short
    here = kept(short.time_s)
    levels, tails = traces.level_mask & here, traces.tail_mask & here
    changes_db = traces.notes.change_db[kept(traces.notes.onset_s)]
    squares, weights = (part[here] for part in traces.texture)
    reference_db, capture_db = traces.levels_db
    shortfall_db = tail_shortfall_db(reference_db[tails], capture_db[tails])
    return Figures(
        tone=_tone(traces, traces.heard & kept(long.time_s)),
        dynamics=dynamic_distance_db(reference_db[levels], capture_db[levels]),
        attack=float(np.sqrt(np.mean(changes_db**2))) if changes_db.size else 0.0,
        residual=_residual(traces, kept),
        texture=float(np.sqrt(squares.sum() / weights.sum())) if weights.any() else 0.0,
        decay=float(shortfall_db.mean()) if shortfall_db.size else 0.0,
        noise=traces.noise_rise_db,
    )


def _residual(traces: Traces, kept: Kept) -> float:
    cross = traces.evidence.cross
    left = cross.less(traces.sums, traces.played & ~kept(cross.middle_s))
    return float(np.sqrt(incoherent_share(*left)))


def _tone(traces: Traces, kept: Mask) -> float:
    long, count = traces.evidence.long, max(1, np.count_nonzero(kept))
    reference = long.reference[kept].sum(axis=0, dtype=np.float64) / count
    capture = long.capture[kept].sum(axis=0, dtype=np.float64) / count
    return tone_distance_db(tone_difference_db(reference, capture, traces.noise), reference, capture)


def _noise_powers(evidence: Evidence, rest: Mask) -> tuple[Samples, Samples]:
    """Median power of each band in the rests; nothing when they are hardly quieter than the playing."""
    short = evidence.short
    reference_db, _ = short.levels_db()
    if np.median(reference_db[rest]) > reference_db.max() - REST_DEPTH_DB:
        return np.zeros(short.reference.shape[1]), np.zeros(short.reference.shape[1])
    reference, capture = (
        np.median(bands[rest], axis=0).astype(np.float64) for bands in (short.reference, short.capture)
    )
    return reference, capture


def _noise_rise_db(levels_db: tuple[Samples, Samples], rest: Mask) -> float:
    reference_db, capture_db = levels_db
    heard = playing(reference_db)
    loud_db = float(decibels(np.mean(10.0 ** (reference_db[heard] / 10.0))))
    return noise_rise_db(float(np.median(reference_db[rest])), float(np.median(capture_db[rest])), loud_db)
