"""A figure as SVG text or PNG bytes.

The SVG carries no script, no style sheet of its own and no style attribute, so that it may stand inside a page with a
strict content policy. Its colours are CSS variables (`--fig-ink` and so on) with the light colours as fallback; marks
that stand for a trial carry what they say as a title and can be reached by keyboard.
"""

import re
from dataclasses import astuple
from io import BytesIO, StringIO
from typing import TYPE_CHECKING, Final
from xml.etree import ElementTree

from optimiser.review.palette import LIGHT, names

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PNG_DOTS_PER_INCH: Final = 200
"""Dots per inch of a PNG: sharp on paper and on dense screens (own choice)."""

TIP: Final = "tip:"
"""Start of the group id by which a mark carries what it says."""

_MOST_STOPS: Final = 40
"""Marks up to which each is a keyboard stop; more would be a trap, and the table behind the figure says the same."""

_SVG: Final = "http://www.w3.org/2000/svg"
_LINK: Final = "http://www.w3.org/1999/xlink"
_VARIABLES: Final = {
    colour: f"var(--fig-{name}, {colour})" for name, colour in zip(names(), astuple(LIGHT), strict=True)
}
_NO_TURN: Final = re.compile(r"rotate\(-?0 ")
_REFERENCE: Final = re.compile(r"url\(#([^)]+)\)")
_NUMBER: Final = re.compile(r"-?\d+\.\d{3,}")


def svg_of(figure: "Figure") -> str:
    """The figure as SVG, the same text for the same figure; ids start with the figure's label."""
    from matplotlib import rc_context

    label = str(figure.get_label()) or "figure"
    written = StringIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": label, "svg.id": label}):
        figure.savefig(written, format="svg", metadata=nothing)
    return _themed(written.getvalue(), label, " ".join(figure.get_suptitle().split()))


def png_of(figure: "Figure") -> bytes:
    """The figure as PNG, in the light colours."""
    written = BytesIO()
    figure.savefig(written, format="png", dpi=PNG_DOTS_PER_INCH, metadata={"Software": None})
    return written.getvalue()


def _themed(text: str, label: str, title: str) -> str:
    ElementTree.register_namespace("", _SVG)
    ElementTree.register_namespace("xlink", _LINK)
    root = ElementTree.fromstring(text)  # noqa: S314  (written by matplotlib a moment ago)
    _drop_style_sheet(root)
    for element in root.iter():
        _plain_attributes(element)
    _keep_needed_ids(root, label)
    _carry_tips(root)
    _name(root, label, title)
    return ElementTree.tostring(root, encoding="unicode")


def _drop_style_sheet(root: ElementTree.Element) -> None:
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag == f"{{{_SVG}}}style" or (child.tag == f"{{{_SVG}}}metadata"):
                parent.remove(child)


def _plain_attributes(element: ElementTree.Element) -> None:
    """Style entries become attributes, fixed colours become variables, long decimals are cut."""
    for entry in filter(str.strip, element.attrib.pop("style", "").split(";")):
        name, value = (piece.strip() for piece in entry.split(":", 1))
        if name != "font-family":
            element.set(name, value)
    if _NO_TURN.match(element.get("transform", "")):
        del element.attrib["transform"]
    for name in ("fill", "stroke"):
        if element.get(name, "") in _VARIABLES:
            element.set(name, _VARIABLES[element.attrib[name]])
    for name in ("d", "x", "y", "transform", "points"):
        if name in element.attrib:
            shortened = _NUMBER.sub(lambda found: f"{float(found[0]):.2f}", element.attrib[name])
            element.set(name, " ".join(shortened.split()))


def _keep_needed_ids(root: ElementTree.Element, label: str) -> None:
    """Ids that something refers to are kept under the figure's label, so that figures can share a page."""
    link = f"{{{_LINK}}}href"
    needed = {element.get(link, "")[1:] for element in root.iter() if element.get(link, "").startswith("#")}
    needed |= {
        name for element in root.iter() for value in element.attrib.values() for name in _REFERENCE.findall(value)
    }
    for element in root.iter():
        own = element.get("id")
        if own in needed:
            element.set("id", f"{label}-{own}")
        elif own is not None and not own.startswith(TIP):
            del element.attrib["id"]
        for name, value in element.attrib.items():
            if name == link and value.startswith("#"):
                element.set(name, f"#{label}-{value[1:]}")
            else:
                element.set(name, _REFERENCE.sub(rf"url(#{label}-\1)", value))


def _carry_tips(root: ElementTree.Element) -> None:
    marks = [element for element in root.iter() if element.get("id", "").startswith(TIP)]
    for mark in marks:
        said = mark.attrib.pop("id").removeprefix(TIP)
        title = ElementTree.Element(f"{{{_SVG}}}title")
        title.text = said
        mark.insert(0, title)
        if len(marks) <= _MOST_STOPS:
            mark.set("tabindex", "0")
            mark.set("role", "img")
            mark.set("aria-label", said)


def _name(root: ElementTree.Element, label: str, title: str) -> None:
    """The whole figure says its finding to those who cannot see it."""
    root.attrib.pop("width", None)
    root.attrib.pop("height", None)
    heading = ElementTree.Element(f"{{{_SVG}}}title", {"id": f"{label}-title"})
    heading.text = title
    root.insert(0, heading)
    root.set("role", "group")
    root.set("aria-labelledby", f"{label}-title")
    root.set("font-family", "system-ui, 'DejaVu Sans', sans-serif")
    root.set("stroke-linejoin", "round")
