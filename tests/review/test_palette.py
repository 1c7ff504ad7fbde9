"""Contrast, against values that the guidelines' readers know."""

from dataclasses import asdict

import pytest

from optimiser.review import DARK, LIGHT, Palette
from optimiser.review.palette import LEAST_GRAPHIC_CONTRAST, LEAST_TEXT_CONTRAST, contrast, css_variables

TEXT = ("ink", "quiet")
GRAPHICS = ("belief", "pick", "warn")


def test_black_on_white_is_the_most_there_is() -> None:
    """21 to 1, as WCAG 2.2 says of the ratio's range."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#336699", "#336699") == 1.0


@pytest.mark.parametrize(("grey", "passes"), [("#767676", True), ("#777777", False)])
def test_the_lightest_grey_that_may_carry_text_on_white(grey: str, passes: bool) -> None:
    """4.54 and 4.48 to 1: the usual example of WCAG's threshold."""
    assert (contrast(grey, "#ffffff") >= LEAST_TEXT_CONTRAST) is passes


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_text_and_graphics_stand_out_from_their_ground(palette: Palette) -> None:
    colours = asdict(palette)
    assert all(contrast(colours[name], palette.paper) >= LEAST_TEXT_CONTRAST for name in TEXT)
    assert all(contrast(colours[name], palette.paper) >= LEAST_GRAPHIC_CONTRAST for name in GRAPHICS)
    assert contrast(palette.belief, palette.paper) >= LEAST_TEXT_CONTRAST, "links are written in it"


def test_every_colour_is_its_own_so_that_a_figure_can_be_themed() -> None:
    assert len(set(asdict(LIGHT).values())) == len(asdict(LIGHT))


def test_variables_by_use() -> None:
    assert "--fig-ink:#17191c;" in css_variables(LIGHT)
