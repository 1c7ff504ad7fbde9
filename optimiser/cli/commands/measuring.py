"""measure: one take, no study."""

from collections.abc import Iterator
from pathlib import Path
from statistics import fmean
from typing import Annotated, Any, Final

import typer

from optimiser.cli.outcome import AsJson, Outcome, View
from optimiser.cli.printing import bar, columns, number, paragraph, plus_minus, whole

_FULL_BAR_STEPS = 6.0
"""Just-noticeable steps at which a part's bar is full; six alone halve the score."""


def measure(
    reference: Annotated[Path, typer.Argument(metavar="REFERENCE.wav", help="The real chain, playing the reel.")],
    capture: Annotated[Path, typer.Argument(metavar="CAPTURE.wav", help="The capture, playing the same reel.")],
    goal: Annotated[Path | None, typer.Option(help="The wanted tone, playing the same reel.")] = None,
    figure: Annotated[Path | None, typer.Option(help="Also draw the pair: a file that ends in .png or .svg.")] = None,
    as_json: AsJson = False,
) -> Outcome:
    """Measure how alike two recordings of one reel are."""
    from optimiser.workflow import measure_view

    return Outcome(measure_view(reference, capture, goal, figure), _say_measure, as_json)


def _say_measure(view: View) -> Iterator[str]:
    yield f"Match         {plus_minus(view['match'], view['match_se'])} of 100"
    if view["goal"] is not None:
        yield f"Goal          {plus_minus(view['goal'], view['goal_se'])} of 100"
    yield from say_articulation(view)
    yield ""
    yield from say_parts(view["parts"])
    yield ""
    if view["passages"]:
        yield from _say_passages(view["passages"])
        yield ""
    if view["advice"]:
        yield from _say_each("Advice:", view["advice"])
        yield ""
    yield from _say_familiar(view["familiar"])
    yield ""
    yield from _say_alignment(view)
    yield from _say_each("Warning:", view["warnings"])
    if "figure" in view:
        yield from whole("Figure:  ", view["figure"])
    yield "The score rests on formulas; no listening panel stands behind it yet."


def say_articulation(view: View) -> Iterator[str]:
    """Articulation, and how much of it was kept."""
    if view.get("articulation") is not None:
        kept = view.get("articulation_kept")
        share = "" if kept is None else f", {100 * kept:.0f} % kept"
        yield f"Articulation  {number(view['articulation'], 0)} of 100{share}"


def say_parts(parts: list[dict[str, Any]]) -> Iterator[str]:
    """Each part as a bar: the longer, the further apart."""
    yield "Where they differ, in just-noticeable steps:"
    yield from columns((part["name"], bar(part["steps"] / _FULL_BAR_STEPS), f"{part['steps']:.1f}") for part in parts)


def say_remarks(view: View) -> Iterator[str]:
    """Advice, what the reel's sweep shows, and warnings."""
    yield from _say_each("Advice:", view["advice"])
    yield from _say_sweep(view.get("sweep", []))
    yield from _say_each("Warning:", view["warnings"])


def _say_sweep(points: list[dict[str, float]]) -> Iterator[str]:
    """Harmonic distortion of amp and capture, on average over the sweep."""
    if points:
        amp, capture = (fmean(point[side] for point in points) for side in ("reference_thd_db", "capture_thd_db"))
        apart = f"{number(abs(capture - amp))} dB {'above' if capture > amp else 'below'} the amp's"
        span = f"{points[0]['frequency_hz']:.0f} to {points[-1]['frequency_hz']:.0f} Hz"
        yield from paragraph(f"harmonics lie {apart} on average, {span} ({capture:.0f} and {amp:.0f} dB)", 10, "Sweep:")


def _say_alignment(view: View) -> Iterator[str]:
    """How the capture was brought to the reference before they were compared."""
    side = "early" if view["delay_ms"] < 0 else "late"
    loud = "quieter" if view["gain_db"] < 0 else "louder"
    flipped = ", upside down (polarity)" if view["polarity"] < 0 else ""
    yield from paragraph(
        f"the capture was {number(abs(view['delay_ms']), 2)} ms {side}, {number(abs(view['gain_db']))} dB {loud}, "
        f"its clock {number(abs(view['drift_ppm']))} ppm off{flipped}; none of this counts",
        10,
        "Aligned:",
    )


def _say_each(label: str, sentences: list[str]) -> Iterator[str]:
    for sentence in sentences:
        yield from paragraph(sentence, 10, label)


def _say_passages(passages: list[dict[str, Any]]) -> Iterator[str]:
    """Where each passage starts and how it scores."""
    yield "Match of each passage, from where it starts:"
    weakest = min(passages, key=lambda passage: float(passage["match"]))
    yield from columns(
        (
            passage["name"],
            f"{number(passage['start_s']):>6} s",
            f"{number(passage['match'], 0):>3}{'  weakest' if passage is weakest and len(passages) > 1 else ''}",
        )
        for passage in passages
    )


def _say_familiar(familiar: dict[str, float]) -> Iterator[str]:
    """Figures that people know from elsewhere, each with its unit."""
    yield "For comparison with other tools; no part of the score:"
    yield from columns(
        (label, f"{number(familiar[name], digits):>7} {unit}".rstrip())
        for label, name, digits, unit in (
            ("error to signal (ESR), A-weighted", "esr", 3, ""),
            ("null depth", "null_depth_db", 1, "dB"),
            ("spectral distance (MR-STFT)", "mr_stft", 3, ""),
            ("loudness, capture less reference", "loudness_difference_lu", 1, "LU"),
            ("true peak of the reference", "reference_true_peak_dbtp", 1, "dBTP"),
            ("true peak of the capture", "true_peak_dbtp", 1, "dBTP"),
        )
    )


COMMANDS: Final = (measure,)
