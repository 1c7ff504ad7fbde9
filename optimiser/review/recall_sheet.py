"""One printable page from which the chain can be set up again."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from html import escape
from typing import Final, cast

from optimiser.space import Knob, MicSpot, Setting, Value
from optimiser.study import StudyState, Trial
from optimiser.units import DIAL_HIGH_HOURS, DIAL_LOW_HOURS

NOON: Final = 12.0
_DEGREES_PER_HOUR: Final = 30.0

RECALL_STYLE: Final = """
*{box-sizing:border-box}
body{margin:0 auto;max-width:19cm;padding:1cm;background:#fff;color:#000;overflow-wrap:anywhere;
font:12pt/1.4 system-ui,"DejaVu Sans",sans-serif}
h1{font-size:20pt;line-height:1.2;margin:0 0 .2cm}
h2{font-size:13pt;margin:.6cm 0 .2cm;border-bottom:1pt solid #000}
p{margin:.1cm 0}
.settings{display:grid;grid-template-columns:repeat(auto-fill,minmax(5.4cm,1fr));gap:.3cm}
.setting{border:1.5pt solid #000;border-radius:2mm;padding:.25cm;break-inside:avoid}
.setting h3{font-size:11pt;font-weight:400;margin:0}
.setting p{font-size:18pt;font-weight:700;line-height:1.2}
.setting .more{font-size:11pt;font-weight:400}
.setting svg{display:block;width:3.4cm;height:3.4cm;margin:.1cm auto}
table{border-collapse:collapse}
th,td{text-align:left;padding:.05cm .6cm .05cm 0;font-weight:400;vertical-align:top}
td{font-weight:700}
th{min-width:3.2cm}
.note{white-space:pre-line}
@media print{@page{margin:1.2cm}body{padding:0;max-width:none}}
"""
"""Black on white, 11 points or more, on one page of A4 or Letter for up to a dozen settings."""


@dataclass(frozen=True)
class RecallBox:
    """One setting as it is to be set.

    Attributes:
        name: of the setting.
        shown: its value as people say it.
        hours: where a clock dial points, 7.0 to 17.0; None for anything else.
        more: what else helps to set it, a line each.
    """

    name: str
    shown: str
    hours: float | None
    more: tuple[str, ...]


@dataclass(frozen=True)
class Recall:
    """What stands on a recall sheet.

    Attributes:
        title: study and trial.
        dates: when the trial was made and the sheet written; may be empty.
        boxes: what to set, in the order of the study sheet.
        tables: headings with rows of name and value.
        note: of the trial; may be empty.
    """

    title: str
    dates: str
    boxes: tuple[RecallBox, ...]
    tables: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    note: str


_SCORES: Final = (
    ("match", "Match", 100),
    ("goal", "Goal", 100),
    ("articulation", "Articulation", 100),
    ("ear", "Ear rating", 10),
)


def recall_of(state: StudyState, number: int, written: str = "") -> Recall:
    """What stands on the recall sheet of a trial, `written` being when that is, as it shall be shown.

    Raises:
        NotFound: no such trial.
    """
    trial, sheet = state.study.trial(number), state.sheet
    space = sheet.space
    shown = space.show(trial.settings)
    made = f"Made on {trial.day}. " if trial.day else ""
    tables = (("The rest of the chain", tuple(sheet.fixed.items())), ("Measured", tuple(_figures(state, trial))))
    return Recall(
        f"{sheet.title or sheet.name}, trial {number}",
        f"{made}{f'Written {written}.' if written else ''}".strip(),
        tuple(
            _box(space.by_name[name], value, said)
            for (name, value), said in zip(space.sorted(trial.settings).items(), shown.values(), strict=True)
        ),
        tuple((heading, rows) for heading, rows in tables if rows),
        trial.note,
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
    told = recall_of(state, number, written)
    title = escape(told.title)
    sections = (
        f"<h1>{title}</h1><p>{escape(told.dates)}</p>",
        f'<h2>Set</h2><div class="settings">{"".join(map(_box_html, told.boxes))}</div>',
        *(_table(heading, rows) for heading, rows in told.tables),
        f'<h2>Note</h2><p class="note">{escape(told.note)}</p>' if told.note else "",
    )
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<style>{RECALL_STYLE}</style></head><body><main>{''.join(sections)}</main></body></html>\n"
    )


def dial(hours: float, name: str) -> str:
    """A clock dial as SVG, its pointer at `hours`; drawn as a knob is seen, 7:00 round to 5:00."""
    marks = "".join(
        _stroke(hour, 40.0, 47.0, 3.0 if hour == NOON else 1.5)
        for hour in range(round(DIAL_LOW_HOURS), round(DIAL_HIGH_HOURS) + 1)
    )
    return (
        f'<svg viewBox="-50 -50 100 100" role="img" aria-label="{escape(name, quote=True)}">'
        '<circle r="36" fill="none" stroke="#000" stroke-width="2"/>'
        f"{marks}{_stroke(hours, 8.0, 36.0, 5.0)}</svg>"
    )


def towards(hours: float) -> tuple[float, float]:
    """The unit step from the middle of a dial towards a clock time, x to the right and y downwards."""
    angle = math.radians((hours - NOON) * _DEGREES_PER_HOUR)
    return math.sin(angle), -math.cos(angle)


def _stroke(hours: float, inner: float, outer: float, width: float) -> str:
    """A line from the middle outwards at a clock time."""
    x, y = towards(hours)
    ends = f'x1="{inner * x:.1f}" y1="{inner * y:.1f}" x2="{outer * x:.1f}" y2="{outer * y:.1f}"'
    return f'<line {ends} stroke="#000" stroke-width="{width:g}" stroke-linecap="round"/>'


def _box(setting: Setting, value: Value, shown: str) -> RecallBox:
    is_dial = isinstance(setting, Knob) and setting.scale == "clock" and isinstance(value, float | int)
    more = tuple(_of_spot(setting, value)) if isinstance(setting, MicSpot) else ()
    return RecallBox(setting.name, shown, float(cast(float, value)) if is_dial else None, more)


def _box_html(box: RecallBox) -> str:
    picture = "" if box.hours is None else dial(box.hours, f"{box.name} at {box.shown}")
    more = "".join(f'<p class="more">{escape(line)}</p>' for line in box.more)
    return f'<div class="setting"><h3>{escape(box.name)}</h3>{picture}<p>{escape(box.shown)}</p>{more}</div>'


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
    for name, label, most in _SCORES:
        figure = getattr(trial, name)
        if figure is not None:
            yield label, f"{figure:.1f} of {most}"
    if trial.reading is not None:
        name = state.sheet.reading.name if state.sheet.reading else "reading"
        yield name[:1].upper() + name[1:], f"{trial.reading:g}"


def _table(heading: str, rows: Iterable[tuple[str, str]]) -> str:
    lines = "".join(f'<tr><th scope="row">{escape(name)}</th><td>{escape(value)}</td></tr>' for name, value in rows)
    return f"<h2>{heading}</h2><table>{lines}</table>"
