"""Arrangements of one space as rows of another, as far as both have settings of one name and kind."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray

from optimiser.space.choice import Choice
from optimiser.space.encoding import Block, encode, encoding
from optimiser.space.knob import Knob
from optimiser.space.mic_spot import AXES, MicPlace, MicSpot, Place
from optimiser.space.riff_order import RiffOrder
from optimiser.space.settings import Setting, Value
from optimiser.space.settings_space import SettingsSpace
from optimiser.space.stage import Stage

COMPARABLE: Final = 2
"""Steps, options or riffs that both must have, or there is nothing to compare."""

Carry = Callable[[Value], Sequence[float] | None]
"""From a value of the old setting to numbers for the new one's columns; None for what the new one cannot express."""


@dataclass(frozen=True)
class Translation:
    """Arrangements of an old space as rows of a new one.

    Attributes:
        blocks: what the columns mean that both spaces share.
        places: indices of the arrangements that could be expressed.
        rows: those as rows of the new space, shape (len(places), columns of the new space); columns that are not
            shared hold 0.
        ignored: what could not be carried over, in words.
    """

    blocks: tuple[Block, ...]
    places: tuple[int, ...]
    rows: NDArray[np.float64]
    ignored: tuple[str, ...]


@dataclass(frozen=True)
class _Bridge:
    """What is shared of one setting, how values get across, and whether they do so by their names."""

    block: Block
    carry: Carry
    by_name: bool = False


def translate(old: SettingsSpace, new: SettingsSpace, many: Sequence[Mapping[str, Value]]) -> Translation:
    """Put arrangements of `old` into the rows of `new`.

    Knobs are carried over by their number, steps, options and riffs by their names, microphones by their coordinates
    and else by the names of their spots.
    """
    bridges: list[_Bridge] = []
    ignored = [f"{name} (not in this study)" for name in old.by_name if name not in new.by_name]
    for setting, block in zip(new.settings, encoding(new), strict=True):
        before = old.by_name.get(setting.name)
        bridge = "not varied there" if before is None else _bridge(before, setting, block, new)
        if isinstance(bridge, str):
            ignored.append(f"{setting.name} ({bridge})")
            continue
        bridges.append(bridge)
        if bridge.by_name and before is not None:
            ignored += _strange(setting.name, before, setting)
    rows = [_row(bridges, settings, _width(new)) for settings in many]
    kept = [(place, row) for place, row in enumerate(rows) if row is not None]
    lost = len(many) - len(kept)
    if lost and bridges:
        ignored.append(f"{lost} trial{'s' if lost > 1 else ''} at settings that this study does not know")
    found = np.array([row for _, row in kept]).reshape(len(kept), _width(new))
    return Translation(
        tuple(bridge.block for bridge in bridges), tuple(place for place, _ in kept), found, tuple(ignored)
    )


def _strange(name: str, old: Setting, new: Setting) -> list[str]:
    """Steps, spots, options or riffs that only one of two settings has, in words."""
    before, now = _names(old), _names(new)
    only_new, only_old = [n for n in now if n not in before], [n for n in before if n not in now]
    told = [f"{name} {', '.join(only_new)} (new here)"] if only_new else []
    return told + ([f"{name} {', '.join(only_old)} (not in this study)"] if only_old else [])


def _names(setting: Setting) -> tuple[str, ...]:
    match setting:
        case Stage():
            return setting.steps
        case MicSpot():
            return setting.names
        case Choice():
            return setting.options
        case RiffOrder():
            return setting.riffs
    return ()


def _width(space: SettingsSpace) -> int:
    return int(encode(space, []).shape[1])


def _row(bridges: Sequence[_Bridge], settings: Mapping[str, Value], width: int) -> NDArray[np.float64] | None:
    row = np.zeros(width)
    for bridge in bridges:
        block = bridge.block
        if block.setting not in settings:
            if block.active is None:
                return None
            continue
        numbers = bridge.carry(settings[block.setting])
        if numbers is None:
            return None
        row[list(block.columns)] = numbers
        if block.active is not None:
            row[block.active] = 1.0
    return row


def _bridge(old: Setting, new: Setting, block: Block, space: SettingsSpace) -> _Bridge | str:
    """How values get from one setting to the other, or why they cannot."""
    match old, new:
        case Knob(), Knob():
            same = old.scale == new.scale and old.unit == new.unit
            return _Bridge(block, lambda value: (new.scaled(value),)) if same else "on another scale there"
        case Stage(), Stage():
            return _of_stage(old, new, block)
        case ((MicSpot() | MicPlace()), (MicSpot() | MicPlace())):
            return _of_mic(old, new, block, space)
        case Choice(), Choice():
            return _of_names(old.options, new.options, block)
        case RiffOrder(), RiffOrder():
            return _of_order(old, new, block)
    return "another kind of setting there"


def _of_stage(old: Stage, new: Stage, block: Block) -> _Bridge | str:
    known = [step for step in old.steps if step in new.steps]
    if len(known) < COMPARABLE or known != [step for step in new.steps if step in old.steps]:
        return "other steps there"
    steps = new.steps
    return _Bridge(block, lambda value: (float(steps.index(str(value))),) if value in steps else None, by_name=True)


def _of_names(old: Sequence[str], new: Sequence[str], block: Block) -> _Bridge | str:
    """Unordered alternatives; one that only the old setting has stays another one, unless numbers describe them."""
    if len(set(old) & set(new)) < COMPARABLE:
        return "other options there"
    strange = [name for name in old if name not in new]
    if len(block.columns) > 1:
        return "described by numbers here"
    numbers = {name: (float(place),) for place, name in enumerate(new)}
    numbers |= {name: (-2.0 - place,) for place, name in enumerate(strange)}
    return _Bridge(block, lambda value: numbers.get(str(value)), by_name=True)


def _of_order(old: RiffOrder, new: RiffOrder, block: Block) -> _Bridge | str:
    """The order of those riffs that both have."""
    known = [riff for riff in new.riffs if riff in old.riffs]
    if len(known) < COMPARABLE:
        return "other riffs there"
    columns = tuple(column for column, riff in zip(block.columns, new.riffs, strict=True) if riff in known)

    def carry(value: Value) -> Sequence[float]:
        played = [riff for riff in cast(list[str], value) if riff in known]
        return [float(played.index(riff) if riff in played else len(played)) for riff in known]

    return _Bridge(replace(block, columns=columns, levels=len(known)), carry, by_name=True)


def _of_mic(old: MicSpot | MicPlace, new: MicSpot | MicPlace, block: Block, space: SettingsSpace) -> _Bridge | str:
    """By coordinates where both have them, else by the spots' names."""
    if isinstance(old, MicSpot) and isinstance(new, MicSpot) and not (old.places and new.places):
        return _of_names(old.names, new.names, block)
    if (isinstance(old, MicSpot) and not old.places) or (isinstance(new, MicSpot) and not new.places):
        return "coordinates on one side only"

    def carry(value: Value) -> Sequence[float] | None:
        place = _place(old, value)
        if place is None:
            return None
        row = encode(space, [{new.name: _there(new, place)}])[0]
        return cast(Sequence[float], row[list(block.columns)].tolist())

    return _Bridge(block, carry)


def _place(mic: MicSpot | MicPlace, value: Value) -> Place | None:
    if isinstance(mic, MicSpot):
        return mic.place_of(value)
    place = cast(dict[str, float], value)
    return place["radial_mm"], place["distance_mm"], place["angle_deg"]


def _there(mic: MicSpot | MicPlace, place: Place) -> Value:
    """The saved spot at a place, else the place itself."""
    if isinstance(mic, MicSpot):
        for spot in mic.spots:
            if spot.place == place:
                return spot.name
    return dict(zip(AXES, place, strict=True))
