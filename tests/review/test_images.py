"""What an SVG carries and what it must not."""

import re
from xml.etree import ElementTree

import pytest
from matplotlib import rcParams

from optimiser.review import LIGHT, View, png_of, svg_of
from optimiser.review.palette import names

LINK = "{http://www.w3.org/1999/xlink}href"
SVG = "{http://www.w3.org/2000/svg}"
LARGEST_BYTES = 150_000
FIGURES = ("progress", "explored", "mic", "riffs", "mattered", "outlook", "parts")


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)  # noqa: S314  (our own output)


@pytest.fixture(scope="module")
def svgs(views: dict[str, View]) -> dict[str, str]:
    return {name: svg_of(view.figure) for name, view in views.items()}


@pytest.mark.parametrize("name", FIGURES)
def test_an_svg_is_small_and_needs_nothing_else(svgs: dict[str, str], name: str) -> None:
    assert len(svgs[name].encode()) < LARGEST_BYTES
    root = parsed(svgs[name])
    for element in root.iter():
        assert element.tag not in (f"{SVG}script", f"{SVG}style"), "a strict content policy would drop it"
        assert "style" not in element.attrib
        assert not any(attribute.startswith("on") for attribute in element.attrib)
        assert element.get(LINK, "#").startswith(("#", "data:image/png;base64,"))


def test_figures_of_300_trials_are_small_too(long_views: dict[str, View]) -> None:
    sizes = {name: len(svg_of(view.figure).encode()) for name, view in long_views.items()}
    assert max(sizes.values()) < LARGEST_BYTES, sizes


@pytest.mark.parametrize("name", FIGURES)
def test_every_colour_of_the_palette_became_a_variable(svgs: dict[str, str], name: str) -> None:
    bare = re.sub(r"var\(--fig-[a-z]+, #[0-9a-f]{6}\)", "", svgs[name])
    assert set(re.findall(r"--fig-([a-z]+)", svgs[name])) <= set(names())
    for colour in (LIGHT.paper, LIGHT.ink, LIGHT.quiet, LIGHT.grid, LIGHT.belief, LIGHT.pick, LIGHT.warn):
        assert colour not in bare


@pytest.mark.parametrize("name", FIGURES)
def test_text_stays_text_and_the_finding_is_the_title(svgs: dict[str, str], views: dict[str, View], name: str) -> None:
    root = parsed(svgs[name])
    assert root[0].tag == f"{SVG}title"
    assert root[0].text == " ".join(views[name].figure.get_suptitle().split())
    written = " ".join(element.text or "" for element in root.iter(f"{SVG}text"))
    first_line = views[name].figure.get_suptitle().split("\n")[0]
    assert first_line in written


def test_ids_do_not_clash_when_figures_share_a_page(svgs: dict[str, str]) -> None:
    ids = [element.get("id") for svg in svgs.values() for element in parsed(svg).iter()]
    used = [name for name in ids if name is not None]
    assert len(used) == len(set(used))
    for svg in svgs.values():
        own = {element.get("id") for element in parsed(svg).iter()}
        assert set(re.findall(r"url\(#([^)]+)\)", svg)) | set(re.findall(r'href="#([^"]+)"', svg)) <= own


def test_marks_say_their_trial_and_can_be_reached_by_keyboard(svgs: dict[str, str]) -> None:
    root = parsed(svgs["progress"])
    stops = {element.get("aria-label"): element for element in root.iter() if element.get("tabindex") == "0"}
    assert any(str(said).startswith("Trial 9: ") for said in stops)
    assert any(str(said) == "Trial 3: failed" for said in stops)
    assert all(element[0].tag == f"{SVG}title" and element[0].text == said for said, element in stops.items())


def test_the_same_figure_gives_the_same_svg_without_a_date(views: dict[str, View], svgs: dict[str, str]) -> None:
    assert svg_of(views["progress"].figure) == svgs["progress"]
    assert not re.search(r"\b20\d\d-\d\d-\d\dT", svgs["progress"])


def test_a_png_is_a_png_and_wide_enough_for_paper(views: dict[str, View]) -> None:
    png = png_of(views["mattered"].figure)
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    assert int.from_bytes(png[16:20], "big") >= 800, "pixels across, from the header"


def test_nobody_elses_figures_change_their_look(views: dict[str, View]) -> None:
    before = dict(rcParams)
    svg_of(views["mattered"].figure)
    assert dict(rcParams) == before
