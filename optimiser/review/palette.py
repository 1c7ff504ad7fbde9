"""Colours by what they are for, once for light and once for dark ground.

Blue, vermilion and green are told apart with the common forms of colour blindness [Okabe2008]; here they are darkened
or lightened until they stand out from their ground as the accessibility guidelines ask: text 4.5 to 1, graphics 3 to 1
[WCAG22]. No figure says anything by colour alone.
"""

from dataclasses import astuple, dataclass, fields
from typing import Final

LEAST_TEXT_CONTRAST: Final = 4.5
"""Ratio of luminances between text and its ground, level AA [WCAG22]."""

LEAST_GRAPHIC_CONTRAST: Final = 3.0
"""Ratio of luminances between lines or marks and their ground [WCAG22]."""


@dataclass(frozen=True)
class Palette:
    """One colour, `#rrggbb`, for each use.

    Attributes:
        paper: the ground.
        ink: text, axes, measured marks.
        quiet: lesser text and marks.
        grid: lines that only help the eye.
        belief: what is predicted.
        pick: what is recommended.
        warn: what went wrong.
    """

    paper: str
    ink: str
    quiet: str
    grid: str
    belief: str
    pick: str
    warn: str


LIGHT: Final = Palette("#ffffff", "#17191c", "#565b61", "#d9dcdf", "#0a5a9c", "#00694f", "#a83a00")
DARK: Final = Palette("#15181b", "#eceef0", "#b1b7bd", "#3b4147", "#74b8f0", "#52c9a3", "#f5a05c")


def names() -> tuple[str, ...]:
    """The uses, in order."""
    return tuple(field.name for field in fields(Palette))


def css_variables(palette: Palette) -> str:
    """Declarations such as `--fig-ink:#17191c;`."""
    return "".join(f"--fig-{name}:{colour};" for name, colour in zip(names(), astuple(palette), strict=True))


def luminance(colour: str) -> float:
    """Relative luminance of `#rrggbb`, 0 to 1 [WCAG22]."""
    channels = (int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5))
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 [WCAG22]."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)
