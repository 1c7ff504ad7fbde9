"""A picture of a pair, over pairs of every kind."""

import re
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from numpy.typing import NDArray

from optimiser.review import View, pair_figure, png_of, svg_of
from optimiser.scoring import ArraySound, Curves, Measurement, measure_with_curves

RATE_HZ = 48_000
Sound = NDArray[np.float64]


def notes(seconds: float, every_s: float) -> Sound:
    """Plucked fifths, each a little softer or louder than the last."""
    rng = np.random.default_rng(3)
    sound = np.zeros(round(seconds * RATE_HZ))
    time_s = np.arange(round(0.8 * RATE_HZ)) / RATE_HZ
    for place, start in enumerate(range(RATE_HZ // 2, sound.size - time_s.size, round(every_s * RATE_HZ))):
        hertz = 110.0 * 2 ** ((place % 7) / 12)
        tones = sum(np.sin(2 * np.pi * hertz * k * time_s) / k for k in (1, 1.5, 2, 3, 4, 6, 9))
        sound[start : start + time_s.size] += rng.uniform(0.05, 0.3) * tones * np.exp(-4.0 * time_s)
    return np.asarray(sound + 1e-5 * rng.normal(size=sound.size))


def measured(reference: Sound, capture: Sound) -> tuple[Measurement, Curves]:
    return measure_with_curves(*(ArraySound(sound[:, None], RATE_HZ) for sound in (reference, capture)))


def dirtier(sound: Sound) -> Sound:
    return np.asarray(0.5 * np.tanh(4.0 * sound))


@pytest.fixture(scope="module")
def pair() -> tuple[Measurement, Curves]:
    sound = notes(12.0, 0.9)
    return measured(sound, dirtier(sound))


@pytest.fixture(scope="module")
def view(pair: tuple[Measurement, Curves]) -> View:
    return pair_figure(*pair)


def panels(view: View) -> list[Axes]:
    return [axes for axes in view.figure.axes if axes.get_title(loc="left")]


def test_four_panels_each_with_a_title_and_labels(view: View) -> None:
    assert len(panels(view)) == 4
    assert all(axes.get_xlabel() and axes.get_ylabel() for axes in panels(view))


def test_the_lines_are_the_curves(view: View, pair: tuple[Measurement, Curves]) -> None:
    tone, levels, attacks, differences = panels(view)
    curves = pair[1]
    assert any(np.array_equal(line.get_ydata(), curves.tone_db) for line in tone.lines)
    assert any(np.array_equal(line.get_ydata(), curves.capture_level_db) for line in levels.lines)
    drawn = sum(line.get_marker() == "o" for line in attacks.lines)
    assert drawn == curves.onset_s.size > 3
    mesh = differences.collections[0]
    assert mesh.get_clim() == (-12.0, 12.0)
    assert np.size(np.asarray(mesh.get_array())) == curves.map_db.size
    assert attacks.get_xlim() == differences.get_xlim()


def test_the_title_names_what_costs_most(view: View, pair: tuple[Measurement, Curves]) -> None:
    costs = {part.name: part.weight * part.steps**2 for part in pair[0].parts}
    said = " ".join(view.figure.get_suptitle().split())
    assert said == f"Match {pair[0].match:.0f} of 100; {max(costs, key=lambda name: costs[name])} costs most"


def test_the_same_pair_gives_the_same_bytes(pair: tuple[Measurement, Curves], view: View) -> None:
    again = pair_figure(*pair)
    assert svg_of(again.figure) == svg_of(view.figure)
    assert png_of(again.figure) == png_of(view.figure)


def test_the_svg_carries_its_map_and_needs_nothing_else(view: View) -> None:
    svg = svg_of(view.figure)
    assert len(svg.encode()) < 300_000
    assert 'href="data:image/png;base64,' in svg
    assert not re.search(r"<script|<style|style=|url\((?!#)", svg)


@pytest.mark.parametrize("kind", ["alike", "dirty", "two notes", "many notes", "no curve"])
def test_no_text_is_cut_or_covered(kind: str) -> None:
    sound = notes(*{"two notes": (3.0, 1.0), "many notes": (30.0, 0.3)}.get(kind, (6.0, 0.9)))
    told, curves = measured(sound, sound if kind == "alike" else dirtier(sound))
    if kind == "no curve":
        nothing = np.zeros(0)
        curves = replace(
            curves, reference_level_db=nothing, capture_level_db=nothing, onset_s=nothing, attack_change_db=nothing
        )
    assert_nothing_covered_or_cut(pair_figure(told, curves))


def assert_nothing_covered_or_cut(view: View) -> None:
    figure = view.figure
    canvas = FigureCanvasAgg(figure)
    canvas.draw()  # type: ignore[no-untyped-call]
    renderer = canvas.get_renderer()  # type: ignore[no-untyped-call]
    out_of_view = {
        label
        for axes in figure.axes
        for axis in (axes.xaxis, axes.yaxis)
        for tick in axis.get_major_ticks()
        if not min(axis.get_view_interval()) - 1e-9 <= tick.get_loc() <= max(axis.get_view_interval()) + 1e-9
        for label in (tick.label1, tick.label2)
    }
    boxes = [
        (text.get_text(), text.get_window_extent(renderer))
        for text in figure.findobj(Text)
        if isinstance(text, Text) and text not in out_of_view and text.get_visible() and text.get_text().strip()
    ]
    boxes = [(words, box) for words, box in boxes if box.width > 0]
    assert len(boxes) > 30
    for words, box in boxes:
        assert box.x0 >= -1, words
        assert box.x1 <= figure.bbox.x1 + 1, words
        assert box.y0 >= -1, words
        assert box.y1 <= figure.bbox.y1 + 1, words
    for (one, box), (other, other_box) in combinations(boxes, 2):
        overlap = Bbox.intersection(box, other_box)
        assert overlap is None or min(overlap.width, overlap.height) < 2, f"{one!r} over {other!r}"
