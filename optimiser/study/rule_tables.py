"""Reads the conditions of a study sheet, `only_when` and `[[never]]`, and writes them back."""

from collections.abc import Mapping, Sequence
from typing import Any

from optimiser.space import (
    AXES,
    Between,
    Choice,
    Knob,
    Matcher,
    MicPlace,
    MicSpot,
    OneOf,
    OrderEnds,
    PlaceWithin,
    RiffOrder,
    Rule,
    Setting,
    Stage,
    UnreadableValue,
)
from optimiser.study.tables import Table, is_number


def read_rule(table: Table, settings: Mapping[str, Setting]) -> Rule:
    """The conditions in a table, each named after the setting it looks at."""
    conditions: list[tuple[str, Matcher]] = []
    for name, entry in table.entries.items():
        setting = settings.get(name)
        if setting is None:
            table.stranger(name, tuple(settings), "a name that no other setting has")
        else:
            matcher = _read_matcher(table, setting, entry)
            if matcher is not None:
                conditions.append((name, matcher))
    if not table.entries:
        table.trouble("", "no condition", "at least one", 'write for example stage = ["full"]')
    return Rule(tuple(conditions))


def _read_matcher(table: Table, setting: Setting, entry: object) -> Matcher | None:
    match setting:
        case Knob():
            return _read_between(table, setting.name, entry, setting)
        case Stage() | Choice() | MicSpot():
            return _read_names(table, setting, entry)
        case MicPlace():
            return _read_place(table, setting, entry)
        case RiffOrder():
            return _read_ends(table, setting, entry)
    raise TypeError(f"no condition on {setting!r}")


def _read_names(table: Table, setting: Stage | Choice | MicSpot, entry: object) -> OneOf | None:
    raw = [entry] if isinstance(entry, str) else entry
    names = tuple(str(level) for level in setting.levels())
    if isinstance(raw, list) and raw and all(name in names for name in raw):
        return OneOf(tuple(raw))
    table.fault(setting.name, entry, f"a list of some of {', '.join(names)}", f'write {setting.name} = ["{names[0]}"]')
    return None


def _read_between(table: Table, key: str, entry: object, knob: Knob | None = None) -> Between | None:
    example = f"{key} = {{ above = {_quoted(knob)} }}"
    if not isinstance(entry, Mapping) or not entry or set(entry) - {"above", "below"}:
        table.fault(key, entry, "above, below or both", f"write {example}")
        return None
    bounds: dict[str, float | None] = {"above": None, "below": None}
    for side, raw in entry.items():
        try:
            bounds[side] = knob.parse(raw) if knob else _plain_number(raw)
        except UnreadableValue as fault:
            table.fault(key, raw, fault.expected, f"write {example}")
            return None
    return Between(bounds["above"], bounds["below"])


def _quoted(knob: Knob | None) -> str:
    if knob is None:
        return "40"
    return f'"{knob.write(knob.high)}"' if knob.scale == "clock" else knob.write(knob.high)


def _plain_number(raw: object) -> float:
    if isinstance(raw, int | float) and is_number(raw):
        return float(raw)
    raise UnreadableValue("a number", "write a number")


def _read_place(table: Table, setting: MicPlace, entry: object) -> PlaceWithin | None:
    if not isinstance(entry, Mapping) or not entry or set(entry) - set(AXES):
        mend = f"write {setting.name} = {{ radial_mm = {{ above = 40 }} }}"
        table.fault(setting.name, entry, "conditions on " + ", ".join(AXES), mend)
        return None
    spans = [(axis, _read_between(table, f"{setting.name}.{axis}", inner)) for axis, inner in entry.items()]
    return PlaceWithin(tuple((axis, span) for axis, span in spans if span is not None))


def _read_ends(table: Table, setting: RiffOrder, entry: object) -> OrderEnds | None:
    if isinstance(entry, Mapping) and entry and not set(entry) - {"first", "last"}:
        ends = {end: [raw] if isinstance(raw, str) else raw for end, raw in entry.items()}
        if all(_some_of(setting.riffs, raw) for raw in ends.values()):
            return OrderEnds(tuple(ends.get("first", ())), tuple(ends.get("last", ())))
    mend = f'write {setting.name} = {{ first = ["{setting.riffs[0]}"] }}'
    table.fault(setting.name, entry, f"first or last, with some of {', '.join(setting.riffs)}", mend)
    return None


def _some_of(riffs: tuple[str, ...], raw: object) -> bool:
    return isinstance(raw, Sequence) and bool(raw) and all(riff in riffs for riff in raw)


def write_rule(rule: Rule, settings: Mapping[str, Setting]) -> dict[str, Any]:
    """The table from which `read_rule` gives the same rule back."""
    return {name: _write_matcher(matcher, settings[name]) for name, matcher in rule.conditions}


def _write_matcher(matcher: Matcher, setting: Setting) -> Any:
    match matcher:
        case OneOf(names):
            return list(names)
        case Between():
            return _write_between(matcher, setting if isinstance(setting, Knob) else None)
        case PlaceWithin(axes):
            return {axis: _write_between(span, None) for axis, span in axes}
        case OrderEnds(first, last):
            return {end: list(riffs) for end, riffs in (("first", first), ("last", last)) if riffs}


def _write_between(span: Between, knob: Knob | None) -> dict[str, Any]:
    sides = {side: number for side, number in (("above", span.above), ("below", span.below)) if number is not None}
    if knob is None or knob.scale == "number":
        return dict(sides)
    return {side: knob.write(number) if ":" in knob.write(number) else number for side, number in sides.items()}
