"""What a pair of recordings shows: tone, playing level, attacks, and a map of the differences."""

from typing import TYPE_CHECKING, Final

import numpy as np

from optimiser.review.drawing import TITLE_LETTERS, View, draw_points, laid_out, new_figure, own_look, wrapped
from optimiser.review.palette import LIGHT
from optimiser.scoring import Curves, Measurement, Samples
from optimiser.units import show_number

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ALIKE_DB: Final = 1.0
"""dB either side of none that are shaded, as a help to the eye (ours)."""

MAP_LIMIT_DB: Final = 12.0
"""dB at which the colours of the map end: four times as much or a quarter in amplitude (ours)."""

_HEIGHTS: Final = (1.0, 1.25, 0.9, 1.25)
_LEAST_SPAN_DB: Final = 3.0
_OCTAVES_HZ: Final = (63, 125, 250, 500, 1000, 2000, 4000, 8000)


def pair_figure(measured: Measurement, curves: Curves) -> View:
    """Four panels of one pair, one below the other; the capture is at the reference's level.

    Args:
        measured: the pair's scores, for the title.
        curves: what is drawn.
    """
    with own_look():
        figure = new_figure("pair", finding(measured), 11.0)
        tone, levels, attacks, differences = figure.subplots(4, 1, height_ratios=_HEIGHTS)
        _tone(tone, curves)
        _levels(levels, curves)
        _attacks(attacks, curves)
        _map(figure, differences, curves)
        attacks.set_xlim(*differences.get_xlim())
    rows = (
        (f"{hertz:.0f} Hz", f"{level:+.1f} dB") for hertz, level in zip(curves.band_hz, curves.tone_db, strict=True)
    )
    return View(laid_out(figure), ("third octave", "capture over reference"), tuple(rows))


def finding(measured: Measurement) -> str:
    """The score, and what costs most of it, in a sentence."""
    costliest = max(measured.parts, key=lambda part: part.weight * part.steps**2)
    lead = f"Match {measured.match:.0f} of 100"
    return lead if costliest.steps < 1.0 else f"{lead}; {costliest.name} costs most"


def _tone(axes: "Axes", curves: Curves) -> None:
    """Third octaves: the capture over the reference."""
    _titled(axes, "Tone: the capture over the reference")
    axes.axhspan(-ALIKE_DB, ALIKE_DB, color=LIGHT.belief, alpha=0.12, linewidth=0)
    axes.axhline(0.0, color=LIGHT.quiet, lw=0.9)
    axes.plot(curves.band_hz, curves.tone_db, color=LIGHT.ink, marker="o", ms=3.5)
    _hertz(axes, "x")
    _decibels(axes, curves.tone_db)
    axes.set_xlabel("frequency (Hz); shaded: within 1 dB")


def _levels(axes: "Axes", curves: Curves) -> None:
    """How loud the capture is where the reference is as loud as that."""
    _titled(axes, "Touch: level in the capture against the amp")
    axes.set_xlabel("level in the reference (dB below its loudest)")
    axes.set_ylabel("in the capture (dB)")
    if not curves.reference_level_db.size:
        _nothing(axes, "no playing to compare")
        return
    both = np.concatenate([curves.reference_level_db, curves.capture_level_db])
    ends = (float(both.min()) - 1.0, float(both.max()) + 1.0)
    axes.plot(ends, ends, color=LIGHT.quiet, lw=1.0, linestyle=(0, (4, 3)), label="as the amp")
    axes.plot(curves.reference_level_db, curves.capture_level_db, color=LIGHT.belief, label="the capture")
    axes.set(xlim=ends, ylim=ends)
    axes.legend(loc="upper left")


def _attacks(axes: "Axes", curves: Curves) -> None:
    """Every note's attack against the same note's in the reference."""
    _titled(axes, "Pick attack of each note: + is harder")
    axes.axhspan(-ALIKE_DB, ALIKE_DB, color=LIGHT.belief, alpha=0.12, linewidth=0)
    axes.axhline(0.0, color=LIGHT.quiet, lw=0.9)
    if curves.onset_s.size:
        axes.vlines(curves.onset_s, 0.0, curves.attack_change_db, color=LIGHT.ink, lw=0.9)
        notes = zip(curves.onset_s.tolist(), curves.attack_change_db.tolist(), strict=True)
        points = [(at_s, change_db, f"Note at {at_s:.1f} s: {change_db:+.1f} dB") for at_s, change_db in notes]
        draw_points(axes, points, {"marker": "o", "ms": 4, "color": LIGHT.ink, "ls": "none"})
    else:
        _nothing(axes, "no single notes found")
    _decibels(axes, curves.attack_change_db)
    axes.set_xlabel("time in the reference (s); shaded: within 1 dB")


def _map(figure: "Figure", axes: "Axes", curves: Curves) -> None:
    """Differences by time and frequency."""
    from matplotlib.colors import LinearSegmentedColormap, Normalize

    _titled(axes, "Where and when they differ")
    colours = LinearSegmentedColormap.from_list("less, alike, more", (LIGHT.belief, LIGHT.paper, LIGHT.warn))
    mesh = axes.pcolormesh(
        _edges(curves.time_s),
        np.exp(_edges(np.log(curves.band_hz))),
        np.ma.masked_invalid(curves.map_db),
        cmap=colours.with_extremes(bad=LIGHT.grid),
        norm=Normalize(-MAP_LIMIT_DB, MAP_LIMIT_DB),
        rasterized=True,
    )
    _hertz(axes, "y")
    axes.set_ylabel("frequency (Hz)")
    axes.set_xlabel("time in the reference (s); grey: silent in both")
    bar = figure.colorbar(mesh, ax=axes, location="bottom", aspect=40, pad=0.02, extend="both", ticks=range(-12, 13, 6))
    bar.set_label("capture less (blue) or more (red), dB")
    bar.outline.set_visible(False)


def _titled(axes: "Axes", title: str) -> None:
    axes.set_title(wrapped(title, TITLE_LETTERS + 8), loc="left")
    axes.grid(visible=True)


def _decibels(axes: "Axes", figures_db: Samples) -> None:
    """A level axis that never makes much of next to nothing."""
    most = max(_LEAST_SPAN_DB, 1.1 * float(np.max(np.abs(figures_db), initial=0.0)))
    axes.set_ylim(-most, most)
    axes.set_ylabel("dB")


def _hertz(axes: "Axes", along: str) -> None:
    """A logarithmic axis of frequency, marked in octaves."""
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

    (axes.set_xscale if along == "x" else axes.set_yscale)("log")
    axis = axes.xaxis if along == "x" else axes.yaxis
    axis.set_major_locator(FixedLocator(_OCTAVES_HZ))
    axis.set_minor_locator(NullLocator())
    axis.set_major_formatter(
        FuncFormatter(lambda hertz, _: show_number(hertz) if hertz < 1000 else f"{hertz / 1000:g}k")
    )


def _nothing(axes: "Axes", words: str) -> None:
    axes.text(0.5, 0.5, words, transform=axes.transAxes, ha="center", va="center", color=LIGHT.quiet)


def _edges(middles: Samples) -> Samples:
    """(n + 1,) borders between (n,) middles."""
    if middles.size < 2:
        return np.asarray([middles[0] - 0.5, middles[0] + 0.5])
    between = (middles[1:] + middles[:-1]) / 2.0
    return np.concatenate([[2.0 * middles[0] - between[0]], between, [2.0 * middles[-1] - between[-1]]])
