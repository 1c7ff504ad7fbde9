"""One pair of recordings compared: aligned, judged whether it is a pair at all, scored and put into words."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.errors import InvalidRecording
from optimiser.scoring.advice import Findings
from optimiser.scoring.alignment import Alignment, align
from optimiser.scoring.articulation import Articulation, dyad_db, fill_db
from optimiser.scoring.bands import band_mids_hz, loudness_shares
from optimiser.scoring.causes import cause_of, low_level
from optimiser.scoring.coherence import incoherent_share
from optimiser.scoring.dyad_search import find_dyads, with_dyads
from optimiser.scoring.dynamics import dynamic_slope
from optimiser.scoring.evidence import Evidence, gather, levelled
from optimiser.scoring.faults import DOUBTFUL_RESIDUAL, STEADY_SHARE, is_another_performance
from optimiser.scoring.figures import Figures, Traces, figures_of, trace
from optimiser.scoring.frames import TimeMap
from optimiser.scoring.match_score import parts_of, score_with_error
from optimiser.scoring.passages import Located, find_passages, locate
from optimiser.scoring.recording import ReelLayout
from optimiser.scoring.track import Track
from optimiser.scoring.weighting import a_power

MISLABELLED: Final = (48_000 / 44_100, 44_100 / 48_000)
"""Ratios of the two common rates that a recording may be labelled wrongly by."""

_SAME: Final = TimeMap(0.0, 0.0)


@dataclass(frozen=True, eq=False)
class Comparison:
    """What came out of one pair.

    Attributes:
        score: 0 to 100.
        score_se: standard error from leaving out stretches of time.
        steps_without: the parts in steps, a row for each stretch left out.
        figures: of the seven parts.
        articulation: of reference and capture.
        evidence: the aligned pair.
        alignment: the first estimate, with what it says of lost sound.
        located: where the reel lies in the reference.
        traces: the figures over time.
    """

    score: float
    score_se: float
    steps_without: tuple[tuple[float, ...], ...]
    figures: Figures
    articulation: tuple[Articulation, Articulation]
    evidence: Evidence
    alignment: Alignment
    located: Located
    traces: Traces


def compare(reference: Track, capture: Track, layout: ReelLayout | None, name: str) -> Comparison:
    """Align and score one pair.

    Args:
        reference: the real chain.
        capture: its capture.
        layout: of the reel, if known.
        name: what the reference is called in messages.

    Raises:
        InvalidRecording: the two are no pair, with fault `mismatch` or `wrong_rate`.
    """
    alignment = align(reference, capture)
    evidence = gather(reference, capture, alignment)
    located = _located(reference, evidence, layout)
    evidence = levelled(evidence, located.played(evidence.long.time_s))
    traces = trace(reference, capture, evidence, located)
    figures = figures_of(traces)
    if is_another_performance(figures.residual, alignment.steady):
        _refuse(reference, capture, name)
    score, score_se, steps_without = score_with_error(traces)
    return Comparison(
        score,
        score_se,
        steps_without,
        figures,
        _articulation(reference, capture, traces, located),
        evidence,
        alignment,
        located,
        traces,
    )


def _located(reference: Track, evidence: Evidence, layout: ReelLayout | None) -> Located:
    short, long = evidence.short, evidence.long
    level_db = short.levels_db()[0]
    known = None if layout is None else locate(layout, level_db, short.time_s)
    if known is not None:
        return known
    dyads = find_dyads(reference, long.levels_db()[0], long.time_s)
    return with_dyads(find_passages(level_db, short.time_s), dyads)


def findings_of(compared: Comparison) -> Findings:
    """The signed figures from which advice is worded."""
    traces = compared.traces
    reference_db, capture_db = (level_db[traces.level_mask] for level_db in traces.levels_db)
    before, after = compared.articulation
    power = traces.evidence.long.reference[traces.heard].sum(axis=0, dtype=np.float64)
    low = low_level(traces)
    fill_db = (after.fill_db or 0.0) - (before.fill_db or 0.0)
    return Findings(
        traces.tone_db,
        loudness_shares(power * a_power(band_mids_hz())),
        dynamic_slope(reference_db, capture_db),
        float(traces.notes.change_db.mean()) if traces.notes.change_db.size else 0.0,
        fill_db,
        None if before.dyad_db is None or after.dyad_db is None else after.dyad_db - before.dyad_db,
        traces.noise_rise_db,
        compared.figures.decay,
        low,
        cause_of({part.name: part.steps for part in parts_of(compared.figures)}, low, fill_db),
    )


def _refuse(reference: Track, capture: Track, name: str) -> None:
    for ratio in MISLABELLED:
        stretched = capture.resampled(1.0 / ratio)
        try:
            alignment = align(reference, stretched)
        except InvalidRecording:
            continue
        residual = np.sqrt(incoherent_share(*gather(reference, stretched, alignment).cross.summed()))
        if residual < DOUBTFUL_RESIDUAL and alignment.steady >= STEADY_SHARE:
            raise InvalidRecording(
                f"The capture runs at {1 / ratio:.3f} times the speed of the {name}: one has a wrong sample rate.",
                "Export both again at one rate, or set the right rate.",
                fault="wrong_rate",
            )
    raise InvalidRecording(
        f"The capture is no recording of the same performance as the {name}.",
        "Check that both are recordings of the same reel.",
        fault="mismatch",
    )


def _articulation(
    reference: Track, capture: Track, traces: Traces, located: Located
) -> tuple[Articulation, Articulation]:
    evidence, long = traces.evidence, traces.evidence.long
    sides = []
    for side, (sound, time_map) in enumerate(((reference, _SAME), (capture, evidence.time_map))):
        contrast_db = traces.notes.contrast_db[side]
        sides.append(
            Articulation(
                fill_db(evidence.flatness_db[:, side], long.levels_db()[0], long.time_s, located),
                dyad_db(sound, time_map, located),
                float(contrast_db.mean()) if contrast_db.size else None,
            )
        )
    return sides[0], sides[1]
