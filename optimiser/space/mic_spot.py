"""Where a microphone stands: one of the saved spots, or any place within ranges."""

import math
from dataclasses import dataclass
from typing import Final, cast

import numpy as np

from optimiser.space.settings import Handling, UnreadableValue, Value, as_name, as_number

AXES: Final = ("radial_mm", "distance_mm", "angle_deg")
"""Offset from the cone's centre, distance from the grille, angle to the axis."""

DEFAULT_MIC_MINUTES: Final = 1.5
"""Minutes to move a stand (common practice, no source)."""

DEFAULT_PLACE_TOLERANCE: Final = 5.0
"""Millimetres and degrees to which a stand is set by eye (common practice, no source)."""

Place = tuple[float, float, float]
"""Radial offset in mm, distance in mm, angle in degrees."""


@dataclass(frozen=True)
class Spot:
    """A saved microphone position.

    Attributes:
        name: how it is called in the studio.
        place: its coordinates, None when they were not written down.
        note: which microphone or cabinet it belongs to, free text for the recall sheet.
    """

    name: str
    place: Place | None = None
    note: str = ""


def _parse_place(raw: object) -> dict[str, float] | None:
    """A place from a mapping with the three axes or from `22,25,0`; None when it is no place at all."""
    if isinstance(raw, str):
        pieces = raw.split(",")
        raw = dict(zip(AXES, pieces, strict=True)) if len(pieces) == len(AXES) else None
    if not isinstance(raw, dict):
        return None
    expected = "a place with radial_mm, distance_mm and angle_deg"
    mend = "write for example radial_mm=22, distance_mm=25, angle_deg=0"
    if set(raw) != set(AXES):
        raise UnreadableValue(expected, mend)
    return {axis: as_number(raw[axis], expected, mend) for axis in AXES}


def _write_place(value: Value) -> str:
    return ",".join(repr(cast(dict[str, float], value)[axis]) for axis in AXES)


def _show_place(value: Value) -> str:
    place = cast(dict[str, float], value)
    return f"{place['radial_mm']:g} mm out, {place['distance_mm']:g} mm off, {place['angle_deg']:g}°"


@dataclass(frozen=True, kw_only=True)
class MicSpot(Handling):
    """A choice between saved spots.

    Attributes:
        spots: the saved spots; either all of them have coordinates or their coordinates are not used.
        tolerance: millimetres and degrees to which a stand finds its spot again.
    """

    spots: tuple[Spot, ...]
    tolerance: float = DEFAULT_PLACE_TOLERANCE

    @property
    def names(self) -> tuple[str, ...]:
        """The spots' names."""
        return tuple(spot.name for spot in self.spots)

    @property
    def places(self) -> tuple[Place, ...]:
        """Every spot's coordinates, empty when one of them has none."""
        places = tuple(spot.place for spot in self.spots if spot.place is not None)
        return places if len(places) == len(self.spots) else ()

    def parse(self, raw: object) -> Value:
        """Read a spot's name, or the coordinates of a place that is no saved spot."""
        if isinstance(raw, str) and raw.strip().casefold() in {name.casefold() for name in self.names}:
            return as_name(raw, self.names, "a spot")
        if self.places and (place := _parse_place(raw)) is not None:
            return place
        return as_name(raw, self.names, "a spot")

    def write(self, value: Value) -> str:
        """The spot's name, or three numbers."""
        return value if isinstance(value, str) else _write_place(value)

    def show(self, value: Value) -> str:
        """The spot's name, or the place in words."""
        return value if isinstance(value, str) else _show_place(value)

    def contains(self, value: Value) -> bool:
        """Whether it is a saved spot."""
        return value in self.names

    def sample(self, rng: np.random.Generator) -> str:
        """A spot drawn evenly."""
        return self.names[int(rng.integers(len(self.spots)))]

    def nearest(self, value: Value) -> Value:
        """The spot or place itself."""
        return value

    def levels(self) -> tuple[Value, ...]:
        """Every spot's name."""
        return self.names

    def neighbours(self, value: Value) -> tuple[Value, ...]:
        """The other spots, the nearest first where coordinates are known."""
        others = [name for name in self.names if name != value]
        here = self.place_of(value)
        if here is None or not self.places:
            return tuple(others)
        known = dict(zip(self.names, self.places, strict=True))
        return tuple(sorted(others, key=lambda name: math.dist(here, known[name])))

    def place_of(self, value: Value) -> Place | None:
        """Coordinates of a spot or place, None when they were not written down."""
        if isinstance(value, str):
            return self.spots[self.names.index(value)].place
        place = cast(dict[str, float], value)
        return place["radial_mm"], place["distance_mm"], place["angle_deg"]


@dataclass(frozen=True, kw_only=True)
class MicPlace(Handling):
    """A microphone that may stand anywhere within ranges.

    Attributes:
        ranges: lowest and highest value of each of the three axes.
        tolerance: millimetres and degrees to which a stand is set; proposals are multiples of it.
    """

    ranges: tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
    tolerance: float = DEFAULT_PLACE_TOLERANCE

    def parse(self, raw: object) -> dict[str, float]:
        """Read a mapping with the three axes, or `22,25,0`."""
        place = _parse_place(raw)
        if place is None:
            raise UnreadableValue("a place", "write radial_mm, distance_mm and angle_deg, or 22,25,0")
        return place

    def write(self, value: Value) -> str:
        """Three numbers with commas between."""
        return _write_place(value)

    def show(self, value: Value) -> str:
        """The place in words."""
        return _show_place(value)

    def contains(self, value: Value) -> bool:
        """Whether each axis lies within its range."""
        place = cast(dict[str, float], value)
        return all(low <= place[axis] <= high for axis, (low, high) in zip(AXES, self.ranges, strict=True))

    def sample(self, rng: np.random.Generator) -> dict[str, float]:
        """A settable place drawn evenly from the ranges."""
        return self.nearest({axis: float(rng.uniform(*span)) for axis, span in zip(AXES, self.ranges, strict=True)})

    def nearest(self, value: Value) -> dict[str, float]:
        """The settable place within the ranges that is nearest to `value`."""
        place = cast(dict[str, float], value)
        return {axis: self._settable(place[axis], span) for axis, span in zip(AXES, self.ranges, strict=True)}

    def _settable(self, number: float, span: tuple[float, float]) -> float:
        low, high = span
        inside = min(max(number, low), high)
        return round(min(low + round((inside - low) / self.tolerance) * self.tolerance, high), 9)

    def levels(self) -> None:
        """Places are not counted."""
        return

    def neighbours(self, value: Value) -> tuple[Value, ...]:
        """The settable places one tolerance away along each axis."""
        place = cast(dict[str, float], value)
        moved = [
            self.nearest({**place, axis: place[axis] + step})
            for axis in AXES
            for step in (-self.tolerance, self.tolerance)
        ]
        return tuple(other for other in moved if other != place)

    def scaled(self, value: Value) -> tuple[float, ...]:
        """Each axis as 0 at its lowest and 1 at its highest; an axis that cannot move stays 0."""
        place = cast(dict[str, float], value)
        return tuple(
            (place[axis] - low) / (high - low) if high > low else 0.0
            for axis, (low, high) in zip(AXES, self.ranges, strict=True)
        )
