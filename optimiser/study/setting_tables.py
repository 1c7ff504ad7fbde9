"""Reads the tables `[settings.NAME]` of a study sheet, and writes them back."""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from optimiser.space import (
    AXES,
    DEFAULT_CHOICE_MINUTES,
    DEFAULT_CLOCK_TOLERANCE_HOURS,
    DEFAULT_KNOB_MINUTES,
    DEFAULT_MIC_MINUTES,
    DEFAULT_NUMBER_STEPS,
    DEFAULT_ORDER_MINUTES,
    DEFAULT_PLACE_TOLERANCE,
    DEFAULT_STAGE_MINUTES,
    NAME_LIMIT,
    Choice,
    Knob,
    MicPlace,
    MicSpot,
    RiffOrder,
    Setting,
    Spot,
    Stage,
)
from optimiser.study.tables import Table
from optimiser.units import check_dial, exact_clock, parse_clock

KINDS: Final = ("knob", "stage", "mic", "choice", "riff order")

_CLOCK_EXAMPLE: Final = {"low": "8:00", "high": "17:00", "tolerance": "0:05"}


def read_setting(name: str, table: Table) -> Setting | None:
    """The setting that a table describes; None when a fault leaves nothing to go on."""
    readers: dict[str, Callable[[str, Table], Setting | None]] = {
        "knob": _read_knob,
        "stage": _read_stage,
        "mic": _read_mic,
        "choice": _read_choice,
        "riff order": _read_riff_order,
    }
    kind = table.take("kind")
    if not isinstance(kind, str) or kind not in readers:
        table.one_of("kind", KINDS)
        return None
    before = len(table.faults)
    table.take("only_when")
    setting = readers[kind](name, table)
    table.close()
    return setting if len(table.faults) == before else None


def _effort(table: Table, default: float) -> float:
    return table.number("effort_minutes", default, 0.0)


def _read_knob(name: str, table: Table) -> Knob | None:
    before = len(table.faults)
    scale = table.one_of("scale", ("clock", "number"), "number")
    if scale == "clock":
        low, high = _clock(table, "low"), _clock(table, "high")
        tolerance = _clock_span(table)
        unit = ""
    else:
        low, high = table.number("low", None), table.number("high", None)
        tolerance = table.number("tolerance", abs(high - low) / DEFAULT_NUMBER_STEPS or 1.0, 0.0)
        unit = table.text("unit", "")
    if not low < high and len(table.faults) == before:
        table.fault("low", table.entries.get("low"), "less than high", "swap low and high")
    if not tolerance > 0:
        table.fault("tolerance", table.entries.get("tolerance"), "more than 0", "leave it out")
    return Knob(
        name=name,
        effort_minutes=_effort(table, DEFAULT_KNOB_MINUTES),
        scale="clock" if scale == "clock" else "number",
        low=low,
        high=high,
        tolerance=tolerance,
        unit=unit,
    )


def _clock(table: Table, key: str) -> float:
    raw = table.take(key)
    try:
        if isinstance(raw, str):
            return parse_clock(raw)
        if isinstance(raw, int | float) and not isinstance(raw, bool):
            return check_dial(float(raw))
    except (ValueError, OverflowError):
        pass
    table.fault(key, raw, "a clock time from 7:00 to 17:00", f'write {key} = "{_CLOCK_EXAMPLE[key]}"')
    return 7.0 if key == "low" else 17.0


def _clock_span(table: Table) -> float:
    raw = table.take("tolerance")
    if raw is None:
        return DEFAULT_CLOCK_TOLERANCE_HOURS
    if isinstance(raw, int | float) and not isinstance(raw, bool) and 0 < raw < 10:
        return float(raw)
    span = _span_hours(raw) if isinstance(raw, str) else None
    if span:
        return span
    table.fault("tolerance", raw, "a span on the dial", 'write tolerance = "0:05" for five minutes')
    return DEFAULT_CLOCK_TOLERANCE_HOURS


def _span_hours(text: str) -> float | None:
    match = re.fullmatch(r"(\d):([0-5]\d)", text)
    return (int(match[1]) * 60 + int(match[2])) / 60 if match else None


def _names(table: Table, key: str, raw: object, least: int) -> tuple[str, ...]:
    """Distinct names without commas, as they stand in a list."""
    good = (
        isinstance(raw, Sequence)
        and not isinstance(raw, str)
        and len(raw) >= least
        and all(isinstance(name, str) and _is_name(name) for name in raw)
        and len({name.casefold() for name in raw}) == len(raw)
    )
    if good and isinstance(raw, Sequence):
        return tuple(raw)
    expected = f"at least {least} different names without commas, up to {NAME_LIMIT} characters each"
    table.fault(key, raw, expected, f'write {key} = ["first", "second"]')
    return ()


def _is_name(name: str) -> bool:
    return 0 < len(name) <= NAME_LIMIT and name == name.strip() and "," not in name and name.isprintable()


def _read_stage(name: str, table: Table) -> Stage:
    steps = _names(table, "steps", table.take("steps"), 2)
    return Stage(name=name, effort_minutes=_effort(table, DEFAULT_STAGE_MINUTES), steps=steps)


def _read_riff_order(name: str, table: Table) -> RiffOrder:
    riffs = _names(table, "riffs", table.take("riffs"), 2)
    use = table.number("use", float(len(riffs) or 1), 1.0, float(len(riffs) or "inf"))
    if use != int(use):
        table.fault("use", use, "a whole number", f"write use = {int(use)}")
    return RiffOrder(name=name, effort_minutes=_effort(table, DEFAULT_ORDER_MINUTES), riffs=riffs, use=int(use))


def _read_choice(name: str, table: Table) -> Choice:
    raw = table.take("options")
    effort = _effort(table, DEFAULT_CHOICE_MINUTES)
    if not (isinstance(raw, list) and raw and all(isinstance(option, Mapping) for option in raw)):
        return Choice(name=name, effort_minutes=effort, options=_names(table, "options", raw, 2))
    options = _names(table, "options", [option.get("name") for option in raw], 2)
    descriptors = tuple(sorted({key for option in raw for key in option if key != "name"}))
    described = []
    for option in raw:
        inner = Table(f"{table.name}.options", option, table.faults)
        inner.take("name")
        described.append(tuple(inner.number(key, None) for key in descriptors))
    return Choice(
        name=name,
        effort_minutes=effort,
        options=options,
        descriptors=descriptors,
        described=tuple(described) if descriptors else (),
    )


def _read_mic(name: str, table: Table) -> MicSpot | MicPlace:
    effort = _effort(table, DEFAULT_MIC_MINUTES)
    tolerance = table.number("tolerance", DEFAULT_PLACE_TOLERANCE, 0.0)
    if not tolerance > 0:
        table.fault("tolerance", tolerance, "more than 0", "leave it out")
    if table.flag("free", default=False):
        radial, distance, angle = (table.pair(axis) for axis in AXES)
        return MicPlace(name=name, effort_minutes=effort, ranges=(radial, distance, angle), tolerance=tolerance)
    raw = table.take("spots")
    if not isinstance(raw, list):
        raw = [raw] if raw is not None else []
    entries = [{"name": spot} if isinstance(spot, str) else spot for spot in raw]
    names = [spot.get("name") if isinstance(spot, Mapping) else spot for spot in entries]
    if all(isinstance(name, str) for name in names):
        _names(table, "spots", names, 2)
    spots = tuple(_read_spot(Table(f"{table.name}.spots", spot, table.faults)) for spot in entries)
    return MicSpot(name=name, effort_minutes=effort, spots=spots, tolerance=tolerance)


def _read_spot(table: Table) -> Spot:
    name = table.text("name")
    note = table.text("note", "")
    place = None
    if any(axis in table.entries for axis in AXES):
        radial, distance, angle = (table.number(axis, None) for axis in AXES)
        place = (radial, distance, angle)
    table.close()
    return Spot(name, place, note)


def write_setting(setting: Setting) -> dict[str, Any]:
    """The table from which `read_setting` gives the same setting back, without its condition."""
    entries: dict[str, Any] = {}
    match setting:
        case Knob():
            entries = _write_knob(setting)
        case Stage():
            entries = {"kind": "stage", "steps": list(setting.steps)}
        case MicSpot():
            entries = {"kind": "mic", "tolerance": setting.tolerance, "spots": [_write_spot(s) for s in setting.spots]}
        case MicPlace():
            ranges = {axis: list(span) for axis, span in zip(AXES, setting.ranges, strict=True)}
            entries = {"kind": "mic", "free": True, "tolerance": setting.tolerance, **ranges}
        case Choice():
            entries = {"kind": "choice", "options": _write_options(setting)}
        case RiffOrder():
            entries = {"kind": "riff order", "riffs": list(setting.riffs), "use": setting.use}
    return {**entries, "effort_minutes": setting.effort_minutes}


def _write_knob(knob: Knob) -> dict[str, Any]:
    clock = knob.scale == "clock"
    entries: dict[str, Any] = {
        "kind": "knob",
        "scale": knob.scale,
        "low": exact_clock(knob.low) if clock else knob.low,
        "high": exact_clock(knob.high) if clock else knob.high,
        "tolerance": _write_span(knob.tolerance) if clock else knob.tolerance,
    }
    return {**entries, "unit": knob.unit} if knob.unit else entries


def _write_span(hours: float) -> str | float:
    text = f"{int(hours)}:{round(hours % 1 * 60):02d}"
    return text if _span_hours(text) == hours else hours


def _write_spot(spot: Spot) -> dict[str, Any]:
    place = dict(zip(AXES, spot.place, strict=True)) if spot.place is not None else {}
    return {"name": spot.name, **place, **({"note": spot.note} if spot.note else {})}


def _write_options(choice: Choice) -> list[Any]:
    if not choice.described:
        return list(choice.options)
    return [
        {"name": option, **dict(zip(choice.descriptors, numbers, strict=True))}
        for option, numbers in zip(choice.options, choice.described, strict=True)
    ]
