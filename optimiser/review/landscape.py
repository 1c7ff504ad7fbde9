"""Predicted score over a plane of two numbers, as bands with their borders labelled, and where it is hardly known."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, cast

import numpy as np
from numpy.typing import NDArray

from optimiser.review.drawing import View, draw_points, knob_axis, laid_out, legend_below, new_figure, own_look
from optimiser.review.palette import LIGHT
from optimiser.review.progress import said_of
from optimiser.review.standing import Standing, plus_minus
from optimiser.space import Knob, MicPlace, Settings

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

CELLS: Final = 33
"""Points along each side."""

HARDLY_KNOWN: Final = 0.5
"""Part of the standard deviation of all scores so far; where the belief's is larger a place is dotted (own choice)."""

LEAST_SPAN: Final = 0.5
"""Points; a surface flatter than this is shown as one band and not as its rounding errors."""

_DARK: Final = "#0a0b0c"
_BRIGHT: Final = "#fdfdfd"
_TRIAL: Final[dict[str, Any]] = {
    "marker": "o",
    "ms": 7,
    "color": _DARK,
    "mec": _BRIGHT,
    "mew": 1.2,
    "ls": "none",
    "label": "trial",
}
_DOT: Final[dict[str, Any]] = {"marker": "o", "ms": 3, "mew": 0.7, "color": _DARK, "mec": _BRIGHT, "ls": "none"}


@dataclass(frozen=True)
class Plane:
    """Two numbers that span a plane of arrangements.

    Attributes:
        name: short name of the figure.
        spans: lowest and highest of the two numbers.
        at: the arrangement at a point of the plane.
        of: the point of an arrangement, None when it has none.
        names: what the two numbers are called.
        show: the two numbers as people say them.
        label_axes: writes the axes' labels and ticks.
    """

    name: str
    spans: tuple[tuple[float, float], tuple[float, float]]
    at: Callable[[float, float], Settings]
    of: Callable[[Settings], tuple[float, float] | None]
    names: tuple[str, str]
    show: Callable[[float, float], tuple[str, str]]
    label_axes: Callable[["Axes"], None]


def knob_plane(standing: Standing, across: Knob, up: Knob) -> Plane:
    """The plane of two knobs, everything else as recommended."""

    def place(settings: Settings) -> tuple[float, float] | None:
        if across.name not in settings or up.name not in settings:
            return None
        return cast(float, settings[across.name]), cast(float, settings[up.name])

    def label(axes: "Axes") -> None:
        knob_axis(axes, across, "x")
        knob_axis(axes, up, "y")

    return Plane(
        name="explored",
        spans=((across.low, across.high), (up.low, up.high)),
        at=lambda x, y: standing.varied(**{across.name: x, up.name: y}),
        of=place,
        names=(across.name, up.name),
        show=lambda x, y: (across.show(x), up.show(y)),
        label_axes=label,
    )


def mic_plane(standing: Standing, mic: MicPlace) -> Plane:
    """The plane of a free microphone's offset and distance, its angle and everything else as recommended."""
    angle = cast(dict[str, float], standing.varied().get(mic.name, standing.middles[mic.name]))["angle_deg"]

    def at(radial_mm: float, distance_mm: float) -> Settings:
        return standing.varied(**{mic.name: {"radial_mm": radial_mm, "distance_mm": distance_mm, "angle_deg": angle}})

    def place(settings: Settings) -> tuple[float, float] | None:
        spot = settings.get(mic.name)
        return (spot["radial_mm"], spot["distance_mm"]) if isinstance(spot, dict) else None

    def label(axes: "Axes") -> None:
        axes.set_xlabel(f"{mic.name}: offset from the cone's centre (mm)")
        axes.set_ylabel("distance from the grille (mm)")

    return Plane(
        name="mic",
        spans=(mic.ranges[0], mic.ranges[1]),
        at=at,
        of=place,
        names=(f"{mic.name} offset, mm", f"{mic.name} distance, mm"),
        show=lambda x, y: (f"{x:g}", f"{y:g}"),
        label_axes=label,
    )


def landscape(standing: Standing, plane: Plane) -> View:
    """Predicted score over a plane with the trials on it."""
    (left, right), (bottom, top) = plane.spans
    xs, ys = np.linspace(left, right, CELLS), np.linspace(bottom, top, CELLS)
    means, sds = standing.predicted([plane.at(float(x), float(y)) for y in ys for x in xs])
    shape = (CELLS, CELLS)
    with own_look():
        figure = new_figure(plane.name, _finding(standing, plane), 5.0)
        axes = figure.add_subplot()
        plane.label_axes(axes)
        _surface(figure, axes, (xs, ys), means.reshape(shape))
        _dots(axes, (xs, ys), sds.reshape(shape) > HARDLY_KNOWN * standing.spread)
        placed = [(plane.of(dict(trial.settings)), said_of(standing, trial)) for trial in standing.scored]
        draw_points(axes, [(*point, said) for point, said in placed if point is not None], _TRIAL)
        best = plane.of(standing.base)
        if best is not None:
            axes.plot(*best, "*", ms=15, color=_BRIGHT, mec=_DARK, ls="none", label="recommended")
        legend_below(figure, axes, columns=2)
    return View(laid_out(figure), ("trial", *plane.names, "overall"), _rows(standing, plane))


def _rows(standing: Standing, plane: Plane) -> tuple[tuple[str, ...], ...]:
    rows = []
    for trial in standing.scored:
        point = plane.of(dict(trial.settings))
        if point is not None:
            rows.append((str(trial.number), *plane.show(*point), plus_minus(*standing.score(trial))))
    return tuple(rows)


def _finding(standing: Standing, plane: Plane) -> str:
    best = standing.base
    mean, sd = standing.predicted([best])
    shown = standing.space.show(best)
    corners = [plane.at(x, y) for x in plane.spans[0] for y in plane.spans[1]]
    moving = [name for name in best if any(corner.get(name) != best[name] for corner in corners)]
    place = ", ".join(f"{name} {shown[name]}" for name in moving)
    return f"Best by belief: {place}; {plus_minus(mean[0], sd[0])}"


def _surface(
    figure: "Figure",
    axes: "Axes",
    places: tuple[NDArray[np.float64], NDArray[np.float64]],
    means: NDArray[np.float64],
) -> None:
    from matplotlib.colors import BoundaryNorm
    from matplotlib.ticker import MaxNLocator

    xs, ys = places
    low, high = float(np.nanmin(means)), float(np.nanmax(means))
    flat = high - low < LEAST_SPAN
    borders = [low - 1.0, high + 1.0] if flat else MaxNLocator(nbins=7).tick_values(low, high)
    image = axes.imshow(
        means,
        extent=(*_edges(xs), *_edges(ys)),
        origin="lower",
        aspect="auto",
        cmap="cividis",
        norm=BoundaryNorm(borders, 256),
        interpolation="nearest",
    )
    if not flat:
        axes.contour(xs, ys, means, levels=borders[1:-1], colors=_DARK, linewidths=1.8)
        lines = axes.contour(xs, ys, means, levels=borders[1:-1], colors=_BRIGHT, linewidths=0.7)
        for text in axes.clabel(lines, fmt="%g", fontsize=9, colors=LIGHT.ink):
            text.set_bbox({"facecolor": LIGHT.paper, "edgecolor": "none", "pad": 0.8})
    bar = figure.colorbar(image, ax=axes, pad=0.02, aspect=30)
    bar.set_label("predicted overall score (points)")
    bar.outline.set_visible(False)


def _dots(axes: "Axes", places: tuple[NDArray[np.float64], NDArray[np.float64]], doubtful: NDArray[np.bool_]) -> None:
    """Every second place in the dark is dotted."""
    xs, ys = places
    dots = [(xs[column], ys[row]) for row, column in np.argwhere(doubtful) if row % 2 == 0 and column % 2 == 0]
    if dots:
        axes.plot(*_columns(dots), label="dotted: hardly known", **_DOT)


def _edges(places: NDArray[np.float64]) -> tuple[float, float]:
    half = float(places[1] - places[0]) / 2.0
    return float(places[0]) - half, float(places[-1]) + half


def _columns(points: Sequence[tuple[float, float]]) -> tuple[list[float], list[float]]:
    return [float(x) for x, _ in points], [float(y) for _, y in points]
