"""Arrangements as rows of numbers, with a note of what each column means, for the surrogate."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from optimiser.space.choice import Choice
from optimiser.space.knob import Knob
from optimiser.space.mic_spot import MicPlace, MicSpot, Place
from optimiser.space.riff_order import RiffOrder
from optimiser.space.settings import Setting, Value
from optimiser.space.settings_space import SettingsSpace
from optimiser.space.stage import Stage


@dataclass(frozen=True)
class Block:
    """What the columns of one setting hold.

    Attributes:
        setting: the setting's name.
        kind: `knob` one column, 0 at the range's low end and 1 at its high end, beyond them outside it;
            `stage` one column, the step's index; `spot` the spot's index (-1 for a place that is no saved
            spot) and, where known, three coordinates scaled to 0..1 over the spots; `place` three coordinates
            scaled to 0..1 over their ranges; `choice` the option's index and its descriptors scaled to 0..1;
            `order` for each riff its position counted from 0, those not played all at the end.
        columns: the columns' indices.
        levels: number of steps, spots, options or riffs; 0 for a knob or a place.
        active: index of the column that holds 1 when the setting exists and 0 when it does not,
            None when it always exists. Columns of a setting that does not exist hold 0.
    """

    setting: str
    kind: str
    columns: tuple[int, ...]
    levels: int
    active: int | None = None


def encoding(space: SettingsSpace) -> tuple[Block, ...]:
    """One block for each setting, in the order of the sheet."""
    widths = [_width(setting) + (setting.only_when is not None) for setting in space.settings]
    starts = [0, *accumulate(widths)]
    blocks = []
    for setting, start, end in zip(space.settings, starts, starts[1:], strict=False):
        conditional = setting.only_when is not None
        columns = tuple(range(start, end - conditional))
        kind, levels = _kind(setting)
        blocks.append(Block(setting.name, kind, columns, levels, end - 1 if conditional else None))
    return tuple(blocks)


def encode(space: SettingsSpace, many: Sequence[Mapping[str, Value]]) -> NDArray[np.float64]:
    """Arrangements as rows, shape (len(many), columns of all blocks), without units."""
    blocks = encoding(space)
    width = max((max((*block.columns, block.active or 0)) for block in blocks), default=-1) + 1
    rows = np.zeros((len(many), width))
    for row, settings in zip(rows, many, strict=True):
        for setting, block in zip(space.settings, blocks, strict=True):
            if setting.name in settings:
                row[list(block.columns)] = _numbers(setting, settings[setting.name])
                if block.active is not None:
                    row[block.active] = 1.0
    return rows


def _kind(setting: Setting) -> tuple[str, int]:
    match setting:
        case Knob():
            return "knob", 0
        case Stage():
            return "stage", len(setting.steps)
        case MicSpot():
            return "spot", len(setting.spots)
        case MicPlace():
            return "place", 0
        case Choice():
            return "choice", len(setting.options)
        case RiffOrder():
            return "order", len(setting.riffs)
    raise TypeError(f"no encoding for {setting!r}")


def _width(setting: Setting) -> int:
    match setting:
        case MicSpot():
            return 4 if setting.places else 1
        case MicPlace():
            return 3
        case Choice():
            return 1 + len(setting.descriptors)
        case RiffOrder():
            return len(setting.riffs)
    return 1


def _numbers(setting: Setting, value: Value) -> Sequence[float]:
    match setting:
        case Knob():
            return (setting.scaled(value),)
        case Stage():
            return (float(setting.steps.index(str(value))),)
        case MicSpot():
            return _spot_numbers(setting, value)
        case MicPlace():
            return setting.scaled(value)
        case Choice():
            index = setting.options.index(str(value))
            described = _scaled(setting.described[index], setting.described) if setting.described else ()
            return (float(index), *described)
        case RiffOrder():
            return setting.positions(value)
    raise TypeError(f"no encoding for {setting!r}")


def _spot_numbers(setting: MicSpot, value: Value) -> Sequence[float]:
    index = float(setting.names.index(value)) if isinstance(value, str) else -1.0
    place: Place | None = setting.place_of(value)
    return (index, *_scaled(place, setting.places)) if setting.places and place is not None else (index,)


def _scaled(point: Sequence[float], among: Sequence[Sequence[float]]) -> tuple[float, ...]:
    lows, highs = np.min(among, axis=0), np.max(among, axis=0)
    spans = np.where(highs > lows, highs - lows, 1.0)
    return tuple(float(number) for number in (np.asarray(point) - lows) / spans)
