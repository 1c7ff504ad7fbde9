"""The figures in words, the costliest first."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from optimiser.scoring.bands import band_edges_hz, band_mids_hz
from optimiser.scoring.causes import Cause, LowLevel
from optimiser.scoring.match_score import STEPS, Part
from optimiser.scoring.recording import Samples

MOST_ADVICE: Final = 5
"""Sentences (common practice, no source)."""

AUDIBLE_BAND_DB: Final = 1.0
"""dB by which a band must stand away from the median band to be named (measured on toy amps)."""

STRAIGHT_SHARE: Final = 0.85
"""Share of the differences that a straight slope must explain to be named instead of bands (measured on toy amps)."""

DIRTIER_DYAD_DB: Final = 1.0
"""dB that the dyad's notes must sink towards its products for there to be more distortion (measured on toy amps)."""

ONE_SIDED: Final = 1 / 3
"""Share of the notes' difference of attack that their mean must make up for all to be called softer (ours)."""

SAME_FILL_DB: Final = 0.03
"""dB of fill below which it does not tell whether there is more or less distortion (measured on toy amps)."""

TOLD_FILL_DB: Final = 0.5
"""dB of fill from which its figure is told: the least change of level that is heard in noise is about that (from
memory). Below, the fault is told by the steps of fine structure for which it is named."""

LIVELY_SLOPE: Final = 1.03
"""dB of the capture for one of the reference, above which the same fill means less distortion (measured on toy
amps)."""

SQUEEZED_SLOPE: Final = 0.992
"""dB of the capture for one of the reference, below which fuller gaps mean more distortion: what distorts more also
compresses more (measured on toy amps)."""

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
        fill_db: change of the fill; above 0 means more distortion.
        dyad_db: change of the dyad's notes over its products, None without a dyad; below 0 means more distortion.
        noise_db: rise of the noise.
        tail_db: mean shortfall of the tails.
        low: what happens where the playing is soft or has just ended.
        cause: what the difference of fine structure is owed to.
    """

    tone_db: Samples
    shares: Samples
    slope: float
    attack_db: float
    fill_db: float
    dyad_db: float | None
    noise_db: float
    tail_db: float
    low: LowLevel
    cause: Cause


@dataclass(frozen=True)
class Advice:
    """One sentence to act on.

    Attributes:
        sentence: what to listen for, and where there is a first thing to try, that.
        part: part of the match score whose figure it rests on.
        cost: weighted steps squared that it explains.
    """

    sentence: str
    part: str
    cost: float


def advise(parts: tuple[Part, ...], findings: Findings) -> tuple[Advice, ...]:
    """What to listen for, at most five sentences, the costliest first; what is below one step is not mentioned.

    The cost of texture and residual is added to that of the fault that left them.

    Args:
        parts: of the match score.
        findings: their signed figures.
    """
    costs = {part.name: part.weight * part.steps**2 for part in parts}
    steps = {part.name: part.steps for part in parts}
    structure = costs["texture"] + costs["residual"]
    said: list[Advice] = []
    for cause, (part, sentences) in _claims(findings, steps).items():
        own = 0.0 if cause == "distortion" else costs[part]
        cost = own + (structure if cause == findings.cause else 0.0)
        said += [Advice(sentence, part, cost) for sentence in sentences]
    return tuple(sorted(said, key=lambda advice: -advice.cost)[:MOST_ADVICE])


def _claims(findings: Findings, steps: dict[str, float]) -> dict[Cause, tuple[str, list[str]]]:
    """What may be said of each fault, and the part that it rests on."""
    claims: dict[Cause, tuple[str, list[str]]] = {}
    if steps["tone"] >= 1.0:
        claims["tone"] = "tone", tone_words(findings.tone_db, findings.shares)
    if steps["attack"] >= 1.0:
        claims["attack"] = "attack", [_attack_words(findings.attack_db, steps["attack"] * STEPS["attack"][0])]
    if steps["decay"] >= 1.0 or (findings.cause == "gate" and steps["texture"] >= 1.0):
        down_db = max(findings.low.gated_db, findings.tail_db)
        claims["gate"] = "decay", [f"Gate-like decay: tails lie {down_db:.0f} dB down."]
    elif steps["dynamics"] >= 1.0:
        word = "Too compressed" if findings.slope < 1 else "Too lively"
        claims["dynamics"] = "dynamics", [f"{word}: 10 dB of playing becomes {10 * findings.slope:.1f} dB."]
    if findings.cause == "ringing" and max(steps["texture"], steps["noise"]) >= 1.0:
        above = f"lies {findings.low.ringing_db:.0f} dB above the amp"
        claims["ringing"] = "noise", [f"Rings on: where notes have ended, the capture {above}."]
    elif steps["noise"] >= 1.0:
        claims["noise"] = "noise", [f"Noisier by {findings.noise_db:.0f} dB in the rests."]
    if findings.cause == "distortion" and steps["texture"] >= 1.0:
        claims["distortion"] = "texture", [_distortion_words(findings, steps["texture"])]
    return claims


def _attack_words(attack_db: float, apart_db: float) -> str:
    if abs(attack_db) < max(SAME_ATTACK_DB, ONE_SIDED * apart_db):
        return "Pick attack uneven: some notes start harder and some softer than the amp's."
    return f"Pick attack {'softened' if attack_db < 0 else 'sharpened'} by {abs(attack_db):.1f} dB."


def _distortion_words(findings: Findings, texture_steps: float) -> str:
    """Whether there is too much or too little, and what to try first (gain, then stage: common practice, no source)."""
    fuller = "fuller" if findings.fill_db > 0 else "emptier"
    size = f"the gaps between partials are {abs(findings.fill_db):.1f} dB {fuller}"
    if abs(findings.fill_db) < TOLD_FILL_DB:
        size = f"the fine structure of notes is {texture_steps:.1f} just-noticeable steps apart"
    same_fill = abs(findings.fill_db) < SAME_FILL_DB
    if findings.fill_db < -SAME_FILL_DB or (same_fill and findings.slope > LIVELY_SLOPE):
        return f"Less distorted than the amp: raise gain or stage first; {size}."
    dirtier = findings.dyad_db is not None and findings.dyad_db < -DIRTIER_DYAD_DB
    if dirtier or findings.slope < SQUEEZED_SLOPE:
        return f"More distorted than the amp: lower gain or stage first; {size}."
    return f"The distortion has a different character than the amp's; {size}."


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
    span = f"{_round_hz(low_hz[run.start])}-{_round_hz(high_hz[run.stop - 1])} Hz"
    return f"{word.capitalize()}, {span}, by up to {abs(most_db):.1f} dB."


def _round_hz(hertz: float) -> int:
    """To two figures, as people say it."""
    grain = 10 if hertz < 1000 else 100 if hertz < 10_000 else 1000
    return round(hertz / grain) * grain
