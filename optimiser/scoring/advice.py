"""The figures in words, the costliest first."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from optimiser.scoring.bands import band_edges_hz, band_mids_hz
from optimiser.scoring.match_score import Part
from optimiser.scoring.recording import Samples

MOST_ADVICE: Final = 5
"""Sentences (common practice, no source)."""

AUDIBLE_BAND_DB: Final = 1.0
"""dB by which a band must stand away from the median band to be named (measured on toy amps)."""

STRAIGHT_SHARE: Final = 0.85
"""Share of the differences that a straight slope must explain to be named instead of bands (measured on toy amps)."""

SAME_FILL_DB: Final = 0.1
"""dB of fill below which the amount of distortion is the same and only its character differs (measured on toy amps)."""

SAME_ATTACK_DB: Final = 0.5
"""dB of mean change, half a step, below which single notes differ but not the attack as a whole (ours)."""

ZONES: Final = (
    (125.0, "boomy", "lean"),
    (315.0, "thick", "thin"),
    (800.0, "boxy", "hollow"),
    (2000.0, "nasal", "recessed"),
    (4500.0, "harsh", "dull"),
    (np.inf, "fizzy", "dark"),
)
"""Upper edge in Hz, and the trade's words for too much and too little below it (common practice, no source)."""

_NARROW_BANDS: Final = 2
_MOST_ZONES: Final = 2


@dataclass(frozen=True, eq=False)
class Findings:
    """Signed figures behind the parts.

    Attributes:
        tone_db: (26,) capture over reference.
        shares: (26,) of each band in the loudness.
        slope: dB of the capture for each dB of the reference.
        attack_db: mean change of the notes' attack.
        tail_db: typical shortfall of the tails that fall short.
        fill_db: change of the fill; above 0 means more distortion.
        noise_db: rise of the noise.
    """

    tone_db: Samples
    shares: Samples
    slope: float
    attack_db: float
    tail_db: float
    fill_db: float
    noise_db: float


def advise(parts: tuple[Part, ...], findings: Findings) -> tuple[str, ...]:
    """What to listen for, at most five sentences; a part below one step is not mentioned.

    Args:
        parts: of the match score.
        findings: their signed figures.
    """
    said: list[str] = []
    for part in sorted(parts, key=lambda part: part.weight * part.steps**2, reverse=True):
        if part.steps >= 1.0:
            said += [sentence for sentence in _say(part.name, findings) if sentence not in said]
    return tuple(said[:MOST_ADVICE])


def _say(name: str, findings: Findings) -> list[str]:
    if name == "tone":
        return tone_words(findings.tone_db, findings.shares)
    if name == "dynamics":
        word = "Too compressed" if findings.slope < 1 else "Too lively"
        return [f"{word}: 10 dB of playing becomes {10 * findings.slope:.1f} dB."]
    if name == "attack":
        if abs(findings.attack_db) < SAME_ATTACK_DB:
            return ["Pick attack uneven: some notes start harder and some softer than the reference's."]
        word = "softened" if findings.attack_db < 0 else "sharpened"
        return [f"Pick attack {word} by {abs(findings.attack_db):.1f} dB."]
    if name == "decay":
        return [f"Gate-like decay: tails lie {findings.tail_db:.0f} dB down."]
    if name == "noise":
        return [f"Noisier by {findings.noise_db:.0f} dB in the rests."]
    if abs(findings.fill_db) < SAME_FILL_DB:
        return ["The distortion has a different character."]
    return ["Too distorted." if findings.fill_db > 0 else "Not distorted enough."]


def tone_words(difference_db: Samples, shares: Samples) -> list[str]:
    """One phrase for a straight slope, else up to two for the bands that stand out most.

    Args:
        difference_db: (26,) capture over reference.
        shares: (26,) of each band in the loudness, adding up to 1.
    """
    octave = np.log2(band_mids_hz() / 1000.0)
    slope, level = np.polyfit(octave, difference_db, 1, w=np.sqrt(shares))
    spread = np.sum(shares * (difference_db - np.sum(shares * difference_db)) ** 2)
    left = np.sum(shares * (difference_db - slope * octave - level) ** 2)
    if spread > 0 and 1.0 - left / spread > STRAIGHT_SHARE:
        return [f"Too {'bright' if slope > 0 else 'dark'} overall, by {abs(slope):.1f} dB per octave."]
    apart_db = difference_db - np.median(difference_db[shares > 0.1 * shares.max()])
    runs = sorted(_runs(apart_db), key=lambda run: -float(np.sum((shares * apart_db**2)[run])))
    return [_run_words(run, apart_db, shares) for run in runs[:_MOST_ZONES]]


def _runs(apart_db: Samples) -> list[slice]:
    """Neighbouring bands that stand out to the same side."""
    side = np.where(np.abs(apart_db) >= AUDIBLE_BAND_DB, np.sign(apart_db), 0.0)
    edges = [0, *(np.flatnonzero(np.diff(side)) + 1).tolist(), side.size]
    return [slice(first, last) for first, last in pairwise(edges) if side[first] != 0]


def _run_words(run: slice, apart_db: Samples, shares: Samples) -> str:
    mids_hz, (low_hz, high_hz) = band_mids_hz()[run], band_edges_hz()
    peak = int(np.argmax(np.abs(apart_db[run])))
    most_db = float(apart_db[run][peak])
    if run.stop - run.start <= _NARROW_BANDS:
        return f"{'Peak' if most_db > 0 else 'Dip'} at {mids_hz[peak]:.0f} Hz, by up to {abs(most_db):.1f} dB."
    weight = (shares * np.abs(apart_db))[run]
    centre_hz = float(np.exp(np.average(np.log(mids_hz), weights=weight)))
    much, little = next((much, little) for edge_hz, much, little in ZONES if centre_hz < edge_hz)
    word = much if most_db > 0 else little
    span = f"{low_hz[run.start]:.0f}-{high_hz[run.stop - 1]:.0f} Hz"
    return f"{word.capitalize()}, {span}, by up to {abs(most_db):.1f} dB."
