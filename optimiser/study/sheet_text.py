"""Between a study sheet as text or tables and as a value; reading then writing then reading changes nothing."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import asdict, fields, replace
from typing import Any, Final
from zoneinfo import available_timezones

import tomli_w

from optimiser.errors import Fault, SheetError, as_written
from optimiser.scoring import SHIPPED_WEIGHTS, PartWeights
from optimiser.space import Rule, Setting, Settings, SettingsSpace, UnreadableValue, Value
from optimiser.study.policy import ENGINES, RANGES, SearchPolicy
from optimiser.study.rule_tables import read_rule, write_rule
from optimiser.study.setting_tables import read_setting, write_setting
from optimiser.study.sheet import (
    DEFAULT_MINUTES_PER_TRIAL,
    DEFAULT_TRIALS_PLANNED,
    OverallWeights,
    ReadingBand,
    StudySheet,
)
from optimiser.study.tables import Table

_TABLES: Final = ("study", "settings", "never", "reading", "overall", "match", "search", "goal", "before", "fixed")
_STUDY_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,59}")
_SETTING_NAME: Final = re.compile(r"[A-Za-z][A-Za-z0-9_-]{0,39}")
_EXAMPLE_SETTING: Final = '[settings.gain] with kind = "knob"'


def load_sheet(text: str) -> StudySheet:
    """Read a study sheet.

    Args:
        text: the sheet in TOML.

    Raises:
        SheetError: with every fault in it: table, key, what was found, what is expected, the mend.
    """
    try:
        tables = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # numbers without end and tables without bottom among them
        fault = Fault("", "the sheet", f"text that is no TOML ({error})", "tables and entries", "mend that line")
        raise SheetError([fault]) from None
    return sheet_from_tables(tables)


def write_sheet(sheet: StudySheet) -> str:
    """The sheet as TOML, with every default written out."""
    return tomli_w.dumps(sheet_to_tables(sheet))


def sheet_from_tables(tables: Mapping[str, Any]) -> StudySheet:
    """Build a sheet from its tables, as they come from TOML or JSON.

    Raises:
        SheetError: with every fault in it.
    """
    faults: list[Fault] = []
    top = Table("", tables, faults)
    raw = {name: top.take(name) for name in _TABLES}
    top.close()
    study = _read_study(Table("study", raw["study"], faults))
    space = _read_space(raw["settings"], raw["never"], faults)
    reading = _read_reading(Table("reading", raw["reading"], faults)) if raw["reading"] is not None else None
    overall = _read_overall(Table("overall", raw["overall"] or {}, faults))
    weights = _read_match(raw["match"], faults)
    policy = _read_policy(Table("search", raw["search"] or {}, faults))
    fixed = _read_fixed(Table("fixed", raw["fixed"] or {}, faults))
    goal_settings = _read_values(Table("goal", raw["goal"] or {}, faults), space)
    before = _read_values(Table("before", raw["before"] or {}, faults), space)
    if faults:
        raise SheetError(faults)
    return StudySheet(
        **study,
        space=space,
        reading=reading,
        overall=overall,
        match_weights=weights,
        policy=policy,
        fixed=fixed,
        goal_settings=goal_settings,
        before=before,
    )


def _read_study(table: Table) -> dict[str, Any]:
    name = table.text("name")
    if name and not _STUDY_NAME.fullmatch(name):
        table.fault("name", name, "up to 60 letters, digits and dashes", 'write name = "combo-lead"')
    zone = table.text("timezone", "UTC")
    if zone != "UTC" and zone not in available_timezones():
        table.fault("timezone", zone, "a name of the time-zone database", 'write timezone = "Europe/Lisbon"')
    planned = table.number("trials_planned", float(DEFAULT_TRIALS_PLANNED), 1.0, 1000.0)
    if planned != int(planned):
        table.fault("trials_planned", planned, "a whole number", f"write trials_planned = {int(planned)}")
    study = {
        "name": name,
        "title": table.text("title", ""),
        "timezone": zone,
        "minutes_per_trial": table.number("minutes_per_trial", DEFAULT_MINUTES_PER_TRIAL, 0.0),
        "trials_planned": int(planned),
    }
    table.close()
    return study


def _read_space(raw_settings: object, raw_never: object, faults: list[Fault]) -> SettingsSpace:
    if not raw_settings or not isinstance(raw_settings, Mapping):
        found = as_written(raw_settings) if raw_settings else "no setting"
        faults.append(Fault("settings", "", found, "at least one table", f"write {_EXAMPLE_SETTING}"))
        return SettingsSpace(())
    table = Table("settings", raw_settings, faults)
    settings: dict[str, Setting] = {}
    for name, entries in table.entries.items():
        if not _SETTING_NAME.fullmatch(name):
            table.fault(name, name, "a name of letters, digits, _ and -", "rename it, as in gain or mic_2")
        setting = read_setting(name, Table(f"settings.{name}", entries, faults))
        if setting is not None:
            settings[name] = setting
    if len(settings) < len(table.entries):
        return SettingsSpace(())
    space = SettingsSpace(
        tuple(_with_condition(setting, table.entries[setting.name], settings, faults) for setting in settings.values()),
        _read_never(raw_never, settings, faults),
    )
    try:
        _ = space.in_order
    except ValueError as circle:
        table.trouble("only_when", str(circle), "conditions without a circle", "take one of them out")
    return space


def _with_condition(setting: Setting, entries: Any, settings: Mapping[str, Setting], faults: list[Fault]) -> Setting:
    if "only_when" not in entries:
        return setting
    others = {name: other for name, other in settings.items() if name != setting.name}
    table = Table(f"settings.{setting.name}.only_when", entries["only_when"], faults)
    return replace(setting, only_when=read_rule(table, others))  # type: ignore[type-var]


def _read_never(raw: object, settings: Mapping[str, Setting], faults: list[Fault]) -> tuple[Rule, ...]:
    if raw is None:
        return ()
    if not isinstance(raw, list):
        faults.append(Fault("never", "", as_written(raw), "a list of tables", "write it as [[never]]"))
        return ()
    return tuple(read_rule(Table("never", entries, faults), settings) for entries in raw)


def _read_reading(table: Table) -> ReadingBand:
    usual = ReadingBand()
    low = table.number("low", usual.low)
    high = table.number("high", usual.high)
    if not low < high:
        table.fault("low", low, "less than high", "swap low and high")
    inside = tuple(low + (high - low) * edge / (usual.high - usual.low) for edge in usual.wanted)
    band = ReadingBand(
        name=table.text("name", usual.name),
        low=low,
        high=high,
        wanted=table.pair("wanted", (inside[0], inside[1])),
        redo_below=table.number("redo_below", low + (high - low) * usual.redo_below / (usual.high - usual.low)),
        upper=table.flag("upper", default=usual.upper),
    )
    if not low <= band.redo_below <= band.wanted[0] <= band.wanted[1] <= high:
        found = f"redo_below {band.redo_below:g}, wanted {band.wanted[0]:g} to {band.wanted[1]:g}"
        mend = "put them in this order: low, redo_below, wanted, high"
        table.trouble("wanted", found, f"rising numbers from {low:g} to {high:g}", mend)
    table.close()
    return band


def _read_overall(table: Table) -> OverallWeights:
    usual = OverallWeights()
    weights = {field.name: table.number(field.name, getattr(usual, field.name), 0.0) for field in fields(usual)}
    if not any(weights.values()):
        table.trouble("", "no weight above 0", "at least one part that counts", "set match = 1.0")
    table.close()
    return OverallWeights(**weights)


def _read_match(raw: object, faults: list[Fault]) -> PartWeights | None:
    if raw is None:
        return None
    outer = Table("match", raw, faults)
    inner = outer.take("weights")
    table = Table("match.weights", inner, faults)
    outer.close()
    if inner is not None and not isinstance(inner, Mapping):
        return None
    weights = {}
    for field in fields(PartWeights):
        if field.name in table.entries:
            weights[field.name] = table.number(field.name, None, 0.0)
        else:
            usual = getattr(SHIPPED_WEIGHTS, field.name)
            table.fault(field.name, None, "a weight for every part", f"write {field.name} = {usual:g}")
    table.close()
    if weights and not any(weights.values()):
        table.trouble("", "no weight above 0", "at least one part that counts", "set tone = 1.0")
        return None
    return PartWeights(**weights) if len(weights) == len(fields(PartWeights)) else None


def _read_policy(table: Table) -> SearchPolicy:
    entries: dict[str, Any] = {}
    for field in fields(SearchPolicy):
        usual = field.default
        if isinstance(usual, bool):
            entries[field.name] = table.flag(field.name, default=usual)
        elif isinstance(usual, str):
            entries[field.name] = table.one_of(field.name, ENGINES, usual)
        elif isinstance(usual, int | float):
            number = table.number(field.name, float(usual), *RANGES[field.name])
            entries[field.name] = int(number) if isinstance(usual, int) else number
    table.close()
    return SearchPolicy(**entries)


def _read_fixed(table: Table) -> dict[str, str]:
    fixed = {}
    for key, raw in table.entries.items():
        if isinstance(raw, str | int | float) and not isinstance(raw, bool):
            fixed[key] = raw if isinstance(raw, str) else as_written(raw)
        else:
            table.fault(key, raw, "a text or a number", f'write {key} = "..."')
    return fixed


def _read_values(table: Table, space: SettingsSpace) -> Settings:
    """Values of some settings; nothing while the space itself cannot be read."""
    known: Settings = {}
    for name, raw in table.entries.items() if space.settings else ():
        setting = space.by_name.get(name)
        if setting is None:
            table.stranger(name, tuple(space.by_name), "a setting that the sheet lacks")
            continue
        try:
            known[name] = setting.parse(raw)
        except UnreadableValue as fault:
            table.fault(name, raw, fault.expected, fault.mend)
    return known


def sheet_to_tables(sheet: StudySheet) -> dict[str, Any]:
    """The tables from which `sheet_from_tables` gives the same sheet back."""
    known = sheet.space.by_name
    settings = {}
    for setting in sheet.space.settings:
        settings[setting.name] = write_setting(setting)
        if isinstance(setting.only_when, Rule):
            settings[setting.name]["only_when"] = write_rule(setting.only_when, known)
    tables: dict[str, Any] = {
        "study": {
            "name": sheet.name,
            "title": sheet.title,
            "timezone": sheet.timezone,
            "minutes_per_trial": sheet.minutes_per_trial,
            "trials_planned": sheet.trials_planned,
        },
        "settings": settings,
        "overall": asdict(sheet.overall),
        "search": asdict(sheet.policy),
    }
    if sheet.space.never:
        tables["never"] = [write_rule(rule, known) for rule in sheet.space.never]
    if sheet.match_weights is not None:
        tables["match"] = {"weights": asdict(sheet.match_weights)}
    if sheet.reading is not None:
        tables["reading"] = {**asdict(sheet.reading), "wanted": list(sheet.reading.wanted)}
    if sheet.goal_settings:
        tables["goal"] = {name: _plain(known[name], value) for name, value in sheet.goal_settings.items()}
    if sheet.before:
        tables["before"] = {name: _plain(known[name], value) for name, value in sheet.before.items()}
    if sheet.fixed:
        tables["fixed"] = dict(sheet.fixed)
    return tables


def _plain(setting: Setting, value: Value) -> Any:
    """A value as TOML and JSON take it, a clock's in clock times where they say it exactly."""
    if isinstance(value, str | int | float):
        clock = setting.write(value)
        return clock if ":" in clock and setting.parse(clock) == value else value
    return dict(value) if isinstance(value, Mapping) else list(value)
