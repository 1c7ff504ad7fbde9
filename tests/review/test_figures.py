"""What a reader can rely on in every figure, over all kinds of settings."""

from collections.abc import Callable
from itertools import combinations
from typing import cast

import pytest
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from optimiser.review import Standing, View, figures_of, views_of
from optimiser.review.drawing import MARKS, TITLE_LETTERS, wrapped
from optimiser.space import Settings
from optimiser.study import StudyState, load_sheet

HEAD = '[study]\nname = "made-up"\n'
KNOB = '[settings.{0}]\nkind = "knob"\nscale = "number"\nunit = "{1}"\nlow = {2}\nhigh = {3}\n'
GAIN = '[settings.gain]\nkind = "knob"\nscale = "clock"\nlow = "7:00"\nhigh = "17:00"\n'
PLACE = """
[settings.mic]
kind = "mic"
free = true
radial_mm = [0, 120]
distance_mm = [5, 200]
angle_deg = [0, 45]
"""
CABINET = '[settings.cabinet]\nkind = "choice"\noptions = ["A", "B", "A and B"]\n'
ORDER = '[settings.riffs]\nkind = "riff order"\nriffs = ["a", "b", "c", "d", "e", "f", "g", "h"]\n'
SPOTS = '[settings.{0}]\nkind = "mic"\nspots = ["cap", "edge of the cap left of the seam", "rim"]\n'


def number(settings: Settings, name: str) -> float:
    return cast(float, settings.get(name, 0.0))


def two_knobs(settings: Settings) -> float:
    return 60.0 - (number(settings, "gain") - 11.0) ** 2 - 0.3 * (number(settings, "blend") + 5.0) ** 2


def place_counts(settings: Settings) -> float:
    place = cast(dict[str, float], settings["mic"])
    return 70.0 - abs(place["radial_mm"] - 40.0) / 4.0 - place["distance_mm"] / 20.0 - number(settings, "gain")


def first_riff_counts(settings: Settings) -> float:
    order = cast(list[str], settings["riffs"])
    return 50.0 - 3.0 * order.index("a") + (2.0 if settings.get("cabinet") == "B" else 0.0)


def spot_counts(settings: Settings) -> float:
    return 50.0 + 5.0 * (settings["near"] == "cap") + 2.0 * (settings["far"] == "rim")


def level(settings: Settings) -> float:
    return 50.0 + 0.0 * len(settings)


SPACES: dict[str, tuple[str, Callable[[Settings], float], set[str]]] = {
    "two knobs": (HEAD + GAIN + KNOB.format("blend", "dB", -12, 0), two_knobs, {"explored"}),
    "a score that never moves": (HEAD + GAIN + KNOB.format("blend", "dB", -12, 0), level, {"explored"}),
    "one knob": (HEAD + GAIN, two_knobs, {"explored"}),
    "a free mic": (HEAD + GAIN + PLACE, place_counts, {"explored", "mic"}),
    "choices and a long order": (
        HEAD + CABINET + ORDER.replace('h"]', 'h"]\nuse = 8'),
        first_riff_counts,
        {"explored", "riffs"},
    ),
    "only an order": (HEAD + ORDER, first_riff_counts, {"riffs"}),
    "two microphones": (HEAD + SPOTS.format("near") + SPOTS.format("far"), spot_counts, {"mic", "mic-far"}),
    "a knob under a condition": (
        HEAD + CABINET + KNOB.format("blend", "dB", -12, 0) + 'only_when = { cabinet = ["A and B"] }\n',
        two_knobs,
        {"explored"},
    ),
}


@pytest.fixture(scope="module", params=SPACES)
def any_views(request: pytest.FixtureRequest, hunts: Callable[..., Standing]) -> dict[str, View]:
    text, score, _ = SPACES[request.param]
    return views_of(hunts(text, score))


@pytest.mark.parametrize("space", SPACES)
def test_every_kind_of_setting_gets_its_figure(hunts: Callable[..., Standing], space: str) -> None:
    text, score, expected = SPACES[space]
    assert set(views_of(hunts(text, score))) == expected | {"progress", "mattered", "outlook"}


def test_every_figure_of_a_study_under_its_name(views: dict[str, View]) -> None:
    assert list(views) == ["progress", "explored", "mic", "riffs", "mattered", "outlook", "parts"]
    assert all(view.figure.get_label() == name for name, view in views.items())


def test_a_study_without_trials_has_progress_that_says_so() -> None:
    figures = figures_of(StudyState(load_sheet(HEAD + GAIN)))
    assert set(figures) == {"progress"}
    assert figures["progress"].get_suptitle() == "No trial has a score yet"


def shown_axes(figure: Figure) -> list[Axes]:
    return [axes for axes in figure.get_axes() if axes.axison]


def assert_titled_and_labelled(views: dict[str, View]) -> None:
    for name, view in views.items():
        assert len(view.figure.get_suptitle().split()) >= 3, "the title is a sentence of finding"
        labels = [axes.get_xlabel() or axes.get_ylabel() or axes.get_title("left") for axes in shown_axes(view.figure)]
        assert all(labels), name
        assert view.rows, "there is a table behind it"
        assert all(len(row) == len(view.head) for row in view.rows)


def test_figures_say_their_finding_and_label_their_axes(views: dict[str, View]) -> None:
    assert_titled_and_labelled(views)


def test_any_figures_say_their_finding_and_label_their_axes(any_views: dict[str, View]) -> None:
    assert_titled_and_labelled(any_views)


def texts_of(figure: Figure) -> list[tuple[str, Bbox]]:
    """Every text that is seen, with its place in pixels."""
    canvas = FigureCanvasAgg(figure)
    canvas.draw()  # type: ignore[no-untyped-call]
    renderer = canvas.get_renderer()  # type: ignore[no-untyped-call]
    unseen = _ticks_out_of_view(figure)
    seen = []
    for text in figure.findobj(Text):
        if text in unseen:
            continue
        if isinstance(text, Text) and text.get_visible() and text.get_text().strip():
            axes = text.axes
            if isinstance(axes, Axes) and not axes.axison:
                continue
            seen.append((text.get_text(), text.get_window_extent(renderer)))
    return [(words, box) for words, box in seen if box.width > 0]


def _ticks_out_of_view(figure: Figure) -> set[Artist]:
    """Labels of ticks that matplotlib keeps but does not draw."""
    found: set[Artist] = set()
    for axes in figure.get_axes():
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            for tick in axis.get_major_ticks():
                if not low - 1e-9 <= tick.get_loc() <= high + 1e-9:
                    found |= {tick.label1, tick.label2}
    return found


def assert_nothing_covered_or_cut(views: dict[str, View]) -> None:
    for name, view in views.items():
        texts = texts_of(view.figure)
        page = view.figure.bbox
        for words, box in texts:
            inside = box.x0 >= page.x0 - 1 and box.x1 <= page.x1 + 1 and box.y0 >= page.y0 - 1 and box.y1 <= page.y1 + 1
            assert inside, f"{name}: {words!r} is cut off"
        for (one, box), (other, other_box) in combinations(texts, 2):
            overlap = Bbox.intersection(box, other_box)
            assert overlap is None or min(overlap.width, overlap.height) < 2, f"{name}: {one!r} over {other!r}"


def test_no_text_is_covered_or_cut(views: dict[str, View]) -> None:
    assert_nothing_covered_or_cut(views)


def test_no_text_of_any_figure_is_covered_or_cut(any_views: dict[str, View]) -> None:
    assert_nothing_covered_or_cut(any_views)


def test_no_text_is_covered_in_a_long_study(long_views: dict[str, View]) -> None:
    assert_nothing_covered_or_cut(long_views)


def test_a_knob_on_a_dial_is_read_in_clock_faces(views: dict[str, View]) -> None:
    words = {words for words, _ in texts_of(views["explored"].figure)}
    assert {"10:00", "12:00", "2:00", "4:00"} <= words


def test_no_two_kinds_of_trial_differ_by_colour_alone() -> None:
    looks = [(mark.shape, mark.filled) for mark in MARKS.values()]
    assert len(set(looks)) == len(looks)


def test_titles_break_into_even_lines() -> None:
    words = "Which setting mattered most is not known yet"
    lines = wrapped(words, TITLE_LETTERS).split("\n")
    assert " ".join(lines) == words
    assert abs(len(lines[0]) - len(lines[1])) < 10
