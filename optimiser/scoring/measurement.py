"""The measure: two recordings in, one measurement out."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.errors import InvalidRecording
from optimiser.scoring.advice import advise
from optimiser.scoring.articulation import Articulation, share_kept
from optimiser.scoring.comparison import Comparison, compare, findings_of
from optimiser.scoring.curves import Curves, curves_of
from optimiser.scoring.familiar import Familiar, familiar_figures
from optimiser.scoring.faults import STEADY_SHARE, hum_hz
from optimiser.scoring.inspection import inspect
from optimiser.scoring.match_score import Part, PassageScore, parts_of, score_passages
from optimiser.scoring.passages import EDGE_S, SETTLING_S
from optimiser.scoring.recording import WORKING_RATE_HZ, ReelLayout, Samples, Sound, array_sound
from optimiser.scoring.sweep import SweepPoint, sweep_points
from optimiser.scoring.track import Track

MEASURE_VERSION: Final = "4"
"""Changes whenever the same two recordings would score differently; scores of two versions are not to be compared."""

DRIFT_WARNING_PPM: Final = 50.0
"""Parts in a million beyond which two clocks are worth a look (common practice, no source)."""


@dataclass(frozen=True)
class Measurement:
    """How alike a capture is to its reference, and to the tone that is wanted. No listening panel stands behind it yet.

    Attributes:
        match: match score of capture and reference, 0 to 100.
        match_se: its standard error, by leaving out stretches of time.
        goal: match score of the capture and the goal reference, None without one.
        goal_se: its standard error.
        articulation: how well the capture keeps notes apart, 0 to 100.
        articulation_kept: share of the wanted tone's articulation that the capture keeps, 0 to 1.
        parts: tone, dynamics, attack, residual, texture, decay and noise, against the reference.
        parts_without: their steps, ten rows of seven, each with another tenth of the time left out.
        goal_parts: as `parts`, against the goal reference; empty without one.
        goal_parts_without: as `parts_without`, against the goal reference.
        delay_ms: by how much the capture lies later than the reference.
        gain_db: by how much the capture is louder.
        polarity: +1, or -1 when the capture is upside down.
        drift_ppm: by how much faster the capture's clock counts, in parts in a million.
        passages: match score of every riff and of what else is played, noise left out.
        familiar: figures that people know from elsewhere; no part of the score.
        sweep: harmonic distortion of both over frequency, where the reel holds a sweep; no part of the score.
        advice: what to listen for, the costliest first.
        advice_parts: the part of the match score that each advice rests on.
        warnings: what is doubtful about the recordings.
        measure_version: of the measure.
    """

    match: float
    match_se: float
    goal: float | None
    goal_se: float | None
    articulation: float
    articulation_kept: float
    parts: tuple[Part, ...]
    parts_without: tuple[tuple[float, ...], ...]
    goal_parts: tuple[Part, ...]
    goal_parts_without: tuple[tuple[float, ...], ...]
    delay_ms: float
    gain_db: float
    polarity: int
    drift_ppm: float
    passages: tuple[PassageScore, ...]
    familiar: Familiar
    sweep: tuple[SweepPoint, ...]
    advice: tuple[str, ...]
    advice_parts: tuple[str, ...]
    warnings: tuple[str, ...]
    measure_version: str = MEASURE_VERSION


def measure(
    reference: Samples,
    capture: Samples,
    rate_hz: int,
    *,
    capture_rate_hz: int | None = None,
    layout: ReelLayout | None = None,
    goal: Samples | None = None,
    goal_rate_hz: int | None = None,
) -> Measurement:
    """Measure one take.

    Delay, gain, polarity, offset, sample rate and clock drift of up to 200 ppm do not count.

    Args:
        reference: (n,) or (n, channels), full scale +-1: the real chain.
        capture: (m,) or (m, channels): its capture, playing the same.
        rate_hz: samples per second of the reference.
        capture_rate_hz: of the capture, if it differs.
        layout: where riffs, rests and dyad lie in the reel; else they are found from the sound.
        goal: (k,) or (k, channels): the wanted tone playing the same.
        goal_rate_hz: of the goal, if it differs from the reference's.

    Raises:
        InvalidRecording: one of them cannot be used, or they are no recordings of one performance.
    """
    return measure_sounds(
        array_sound(reference, rate_hz, "reference"),
        array_sound(capture, capture_rate_hz or rate_hz, "capture"),
        layout=layout,
        goal=None if goal is None else array_sound(goal, goal_rate_hz or rate_hz, "goal reference"),
    )


def measure_sounds(
    reference: Sound, capture: Sound, *, layout: ReelLayout | None = None, goal: Sound | None = None
) -> Measurement:
    """Measure one take without holding long recordings as a whole.

    Args:
        reference: the real chain.
        capture: its capture, playing the same.
        layout: where riffs, rests and dyad lie in the reel; else they are found from the sound.
        goal: the wanted tone playing the same.

    Raises:
        InvalidRecording: one of them cannot be used, or they are no recordings of one performance.
    """
    return measure_with_curves(reference, capture, layout=layout, goal=goal)[0]


def measure_with_curves(
    reference: Sound, capture: Sound, *, layout: ReelLayout | None = None, goal: Sound | None = None
) -> tuple[Measurement, Curves]:
    """`measure_sounds`, and the curves behind the comparison of reference and capture."""
    real, copy = inspect(reference, "reference"), inspect(capture, "capture")
    pair = (real.track, copy.track)
    wanted = None if goal is None else _against_goal(goal, pair, layout)
    told = _against_reference(pair, layout, fits_goal=wanted is not None)
    before, after = wanted.articulation if wanted else told.articulation
    parts = parts_of(told.figures)
    evidence = told.evidence
    said = advise(parts, findings_of(told))
    measured = Measurement(
        match=told.score,
        match_se=told.score_se,
        goal=wanted.score if wanted else None,
        goal_se=wanted.score_se if wanted else None,
        articulation=told.articulation[1].score,
        articulation_kept=share_kept(before.score, after.score),
        parts=parts,
        parts_without=told.steps_without,
        goal_parts=wanted.parts if wanted else (),
        goal_parts_without=wanted.parts_without if wanted else (),
        delay_ms=1000.0 * evidence.time_map.delay_samples / WORKING_RATE_HZ,
        gain_db=evidence.gain_db,
        polarity=evidence.polarity,
        drift_ppm=1e6 * evidence.time_map.drift,
        passages=score_passages(told.traces, told.located),
        familiar=familiar_figures(real.track, copy.track, evidence, (real.true_peak_dbtp, copy.true_peak_dbtp)),
        sweep=sweep_points(real.track, copy.track, evidence.time_map, told.located),
        advice=tuple(advice.sentence for advice in said),
        advice_parts=tuple(advice.part for advice in said),
        warnings=(
            *real.warnings,
            *copy.warnings,
            *_rates(reference.rate_hz, capture.rate_hz),
            *_doubts(told, layout, copy.track),
        ),
    )
    return measured, curves_of(told.traces)


def articulation_of(sound: Sound, name: str, layout: ReelLayout | None = None) -> float:
    """How well one recording by itself keeps notes apart, 0 to 100.

    Args:
        sound: the recording.
        name: what it is called in messages.
        layout: where riffs, rests and dyad lie in the reel; else they are found from the sound.

    Raises:
        InvalidRecording: it cannot be used.
    """
    track = inspect(sound, name).track
    return compare(track, track, layout, name).articulation[0].score


@dataclass(frozen=True)
class _Wanted:
    """What is kept of the comparison with the wanted tone; its spectra are let go."""

    score: float
    score_se: float
    articulation: tuple[Articulation, Articulation]
    parts: tuple[Part, ...]
    parts_without: tuple[tuple[float, ...], ...]


def _against_goal(goal: Sound, pair: tuple[Track, Track], layout: ReelLayout | None) -> _Wanted:
    """Compare the capture of a pair with the wanted tone; where that fails, the pair tells whose fault it is."""
    track = inspect(goal, "goal reference").track
    try:
        told = compare(track, pair[1], layout, "goal reference")
    except InvalidRecording as error:
        compare(*pair, layout, "reference")
        raise _odd_one_out(error, "goal reference", "reference and capture") from None
    return _Wanted(told.score, told.score_se, told.articulation, parts_of(told.figures), told.steps_without)


def _against_reference(pair: tuple[Track, Track], layout: ReelLayout | None, *, fits_goal: bool) -> Comparison:
    """Compare a pair; where that fails although the capture fits the wanted tone, the reference is odd."""
    try:
        return compare(*pair, layout, "reference")
    except InvalidRecording as error:
        if not fits_goal:
            raise
        raise _odd_one_out(error, "reference", "capture and goal reference") from None


def _odd_one_out(error: InvalidRecording, odd: str, others: str) -> InvalidRecording:
    """The error with which two of three recordings leave out the third."""
    if error.fault != "mismatch":
        return error
    return InvalidRecording(
        f"The {odd} is no recording of the same performance as {others}.",
        f"Check that the {odd} is a recording of the same reel, and the right file.",
        fault="mismatch",
    )


def _rates(rate_hz: int, capture_rate_hz: int) -> list[str]:
    if capture_rate_hz == rate_hz:
        return []
    return [
        f"The sample rates differ ({rate_hz} and {capture_rate_hz} Hz); both were compared at {WORKING_RATE_HZ} Hz."
    ]


def _doubts(told: Comparison, layout: ReelLayout | None, capture: Track) -> list[str]:
    """What the comparison shows to be doubtful about the two recordings."""
    doubts = []
    drift_ppm = 1e6 * told.evidence.time_map.drift
    slip = told.alignment.slip
    if slip is not None:
        off_ms = 1000 * abs(slip.by_s)
        doubts.append(f"From {slip.at_s:.1f} s on the capture lies {off_ms:.1f} ms off: sound was lost or repeated.")
    elif told.alignment.steady < STEADY_SHARE:
        doubts.append(
            "The capture does not stay in step with the reference; look for lost sound or modulation effects."
        )
    if abs(drift_ppm) > DRIFT_WARNING_PPM:
        doubts.append(f"The two clocks differ by {abs(drift_ppm):.0f} parts in a million; record both from one clock.")
    if layout is not None and not told.located.known:
        doubts.append("The reference does not follow the reel's layout; riffs and rests were found from the sound.")
    if not told.traces.rested:
        doubts.append("Noise cannot be judged, for there is no rest: leave 0.7 s of rest in the reel.")
    mains_hz = _hum_hz(told, capture)
    if mains_hz is not None:
        doubts.append(f"The capture hums at {mains_hz:.0f} Hz.")
    return doubts


def _hum_hz(told: Comparison, capture: Track) -> float | None:
    """Mains hum in the longest rest."""
    rests = told.located.layout.of_kind("rest", "silence")
    if not rests:
        return None
    longest = max(rests, key=lambda passage: passage.duration_s)
    span_s = np.array([longest.start_s + SETTLING_S, longest.end_s - EDGE_S]) + told.located.start_s
    first, last = (max(0, round(float(at))) for at in told.evidence.time_map.capture_position(span_s * WORKING_RATE_HZ))
    return hum_hz(capture.piece(first, min(last, capture.size)))
