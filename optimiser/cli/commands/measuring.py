"""measure: one take, no study."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from optimiser.cli.outcome import AsJson, Outcome, View
from optimiser.cli.printing import bar, columns, number, paragraph, plus_minus

_FULL_BAR_STEPS = 6.0
"""Just-noticeable steps at which a part's bar is full; six alone halve the score."""


def measure(
    reference: Annotated[Path, typer.Argument(metavar="REFERENCE.wav", help="The real chain, playing the reel.")],
    capture: Annotated[Path, typer.Argument(metavar="CAPTURE.wav", help="The capture, playing the same reel.")],
    goal: Annotated[Path | None, typer.Option(help="The wanted tone, playing the same reel.")] = None,
    as_json: AsJson = False,
) -> Outcome:
    """Measure how alike two recordings of one reel are."""
    from optimiser.workflow import measure_view

    return Outcome(measure_view(reference, capture, goal), _say_measure, as_json)


def _say_measure(view: View) -> Iterator[str]:
    yield f"Match         {plus_minus(view['match'], view['match_se'])} of 100"
    if view["goal"] is not None:
        yield f"Goal          {plus_minus(view['goal'], view['goal_se'])} of 100"
    yield from say_articulation(view)
    yield ""
    yield from say_parts(view["parts"])
    yield ""
    flipped = ", polarity inverted" if view["polarity"] < 0 else ""
    yield (
        f"Aligned: delay {number(view['delay_ms'], 2)} ms, level {number(view['gain_db'])} dB, "
        f"drift {number(view['drift_ppm'])} ppm{flipped}"
    )
    yield from say_remarks(view)
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
    """Advice and warnings."""
    for advice in view["advice"]:
        yield from paragraph(advice, 10, "Advice:")
    for warning in view["warnings"]:
        yield from paragraph(warning, 10, "Warning:")


COMMANDS: Final = (measure,)
