"""One printable page from which the chain can be set up again."""

import math
from collections.abc import Iterable
from html import escape
from typing import Final

from optimiser.space import Knob, MicSpot, Setting, Value
from optimiser.study import StudyState, Trial
from optimiser.units import DIAL_HIGH_HOURS, DIAL_LOW_HOURS

_DEGREES_PER_HOUR: Final = 30.0
_NOON: Final = 12.0

RECALL_STYLE: Final = """
*{box-sizing:border-box}
body{margin:0 auto;max-width:19cm;padding:1cm;background:#fff;color:#000;
font:12pt/1.4 system-ui,"DejaVu Sans",sans-serif}
h1{font-size:20pt;line-height:1.2;margin:0 0 .2cm}
h2{font-size:13pt;margin:.6cm 0 .2cm;border-bottom:1pt solid #000}
p{margin:.1cm 0}
.settings{display:grid;grid-template-columns:repeat(auto-fill,minmax(5.4cm,1fr));gap:.3cm}
.setting{border:1.5pt solid #000;border-radius:2mm;padding:.25cm;break-inside:avoid}
.setting h3{font-size:11pt;font-weight:400;margin:0}
.setting p{font-size:18pt;font-weight:700;line-height:1.2;overflow-wrap:anywhere}
.setting .more{font-size:11pt;font-weight:400}
.setting svg{display:block;width:3.4cm;height:3.4cm;margin:.1cm auto}
table{border-collapse:collapse}
th,td{text-align:left;padding:.05cm .6cm .05cm 0;font-weight:400;vertical-align:top}
td{font-weight:700}
@media print{@page{margin:1.2cm}body{padding:0;max-width:none}}
"""
"""Black on white, 11 points or more, on one page of A4 or Letter for up to a dozen settings."""

_SCORES: Final = (
    ("match", "Match"),
    ("goal", "Goal"),
    ("articulation", "Articulation"),
    ("ear", "Ear rating, of 10"),
)


def recall_sheet(state: StudyState, number: int, written: str = "") -> str:
    """The recall sheet of a trial as one HTML page without script or anything from outside.

    Args:
        state: the study's state.
        number: of the trial.
        written: when the page was made, as it shall be shown; left out when empty.

    Raises:
        NotFound: no such trial.
    """
    trial, sheet = state.study.trial(number), state.sheet
    title = escape(f"{sheet.title or sheet.name}, trial {number}")
    boxes = "".join(
        _box(sheet.space.by_name[name], value, shown)
        for (name, value), shown in zip(
            sheet.space.sorted(trial.settings).items(), sheet.space.show(trial.settings).values(), strict=True
        )
    )
    made = f"Made on {escape(trial.day)}. " if trial.day else ""
    told = f"Written {escape(written)}." if written else ""
    sections = (
        f"<h1>{title}</h1><p>{made}{told}</p>",
        f'<h2>Set</h2><div class="settings">{boxes}</div>',
        _table("The rest of the chain", sheet.fixed.items()),
        _table("Measured", _figures(state, trial)),
        f"<h2>Note</h2><p>{escape(trial.note)}</p>" if trial.note else "",
    )
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<style>{RECALL_STYLE}</style></head><body><main>{''.join(sections)}</main></body></html>\n"
    )


def dial(hours: float, name: str) -> str:
    """A clock dial as SVG, its pointer at `hours`; drawn as a knob is seen, 7:00 round to 5:00."""
    marks = "".join(
        _stroke(hour, 40.0, 47.0, 3.0 if hour == _NOON else 1.5)
        for hour in range(round(DIAL_LOW_HOURS), round(DIAL_HIGH_HOURS) + 1)
    )
    return (
        f'<svg viewBox="-50 -50 100 100" role="img" aria-label="{escape(name, quote=True)}">'
        '<circle r="36" fill="none" stroke="#000" stroke-width="2"/>'
        f"{marks}{_stroke(hours, 8.0, 36.0, 5.0)}</svg>"
    )


def _stroke(hours: float, inner: float, outer: float, width: float) -> str:
    """A line from the middle outwards at a clock time."""
    angle = math.radians((hours - _NOON) * _DEGREES_PER_HOUR)
    x, y = math.sin(angle), -math.cos(angle)
    ends = f'x1="{inner * x:.1f}" y1="{inner * y:.1f}" x2="{outer * x:.1f}" y2="{outer * y:.1f}"'
    return f'<line {ends} stroke="#000" stroke-width="{width:g}" stroke-linecap="round"/>'


def _box(setting: Setting, value: Value, shown: str) -> str:
    picture, more = "", ""
    if isinstance(setting, Knob) and setting.scale == "clock" and isinstance(value, float | int):
        picture = dial(float(value), f"{setting.name} at {shown}")
    if isinstance(setting, MicSpot):
        more = "".join(f'<p class="more">{escape(line)}</p>' for line in _of_spot(setting, value))
    return f'<div class="setting"><h3>{escape(setting.name)}</h3>{picture}<p>{escape(shown)}</p>{more}</div>'


def _of_spot(setting: MicSpot, value: Value) -> Iterable[str]:
    for spot in setting.spots:
        if spot.name == value:
            if spot.place is not None:
                radial, distance, angle = spot.place
                yield f"{radial:g} mm from the centre, {distance:g} mm off the grille, {angle:g}° to the axis"
            if spot.note:
                yield spot.note


def _figures(state: StudyState, trial: Trial) -> Iterable[tuple[str, str]]:
    scored = state.study.overall(trial)
    if scored is not None:
        yield "Overall", f"{scored[0]:.1f} of 100"
    for name, label in _SCORES:
        figure = getattr(trial, name)
        if figure is not None:
            yield label, f"{figure:.1f}"
    if trial.reading is not None:
        yield state.sheet.reading.name if state.sheet.reading else "reading", f"{trial.reading:g}"


def _table(heading: str, rows: Iterable[tuple[str, str]]) -> str:
    lines = "".join(f'<tr><th scope="row">{escape(name)}</th><td>{escape(value)}</td></tr>' for name, value in rows)
    return f"<h2>{heading}</h2><table>{lines}</table>" if lines else ""
