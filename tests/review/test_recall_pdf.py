"""The recall sheet as PDF, read back by pypdf, a reader of its own."""

from io import BytesIO

import pytest
from pypdf import PageObject, PdfReader

from optimiser.errors import BadInput, NotFound
from optimiser.review import recall_pdf
from optimiser.review.recall_pdf import width_of, wrapped
from optimiser.study import Event, StudyState, fold, load_sheet, sheet_to_tables
from tests.review.test_recall_sheet import SETTINGS, SHEET

AT = "2026-03-02T10:00:00+00:00"
KNOBS = {
    f"knob_{place}": f'[settings.knob_{place}]\nkind = "knob"\nscale = "clock"\nlow = "8:00"\nhigh = "17:00"\n'
    for place in range(9)
}


def state_of(note: str = "<b>warm</b>", *, knobs: int = 0) -> StudyState:
    """A study with one trial, with so many settings beside the four of the sheet."""
    more = list(KNOBS)[:knobs]
    sheet = load_sheet(SHEET.replace("[reading]", "\n".join([*(KNOBS[name] for name in more), "[reading]"])))
    settings = {**SETTINGS, **dict.fromkeys(more, 9.25)}
    trial = {"trial": 1, "settings": settings, "match": 81.24, "reading": 6.5, "day": "2026-03-02", "note": note}
    events = [
        Event("started", {"sheet": sheet_to_tables(sheet)}, AT),
        Event("measured", {"trial": trial, "asked": None, "details": {}}, AT),
    ]
    return fold(events)


def pages_of(state: StudyState) -> list[PageObject]:
    return list(PdfReader(BytesIO(recall_pdf(state, 1, "2026-03-05 18:00"))).pages)


def test_one_page_of_a4_holds_every_value() -> None:
    """A4 is 210 x 297 mm (ISO 216), 595.28 x 841.89 points."""
    (page,) = pages_of(state_of())
    assert [float(edge) for edge in page.mediabox] == pytest.approx([0, 0, 595.28, 841.89], abs=0.01)
    said = " ".join(page.extract_text().split())
    for value in (
        "Club <amp> & cab, trial 1", "1:30", "-3 dB", "cap edge", "run, chugs", "22 mm from the centre", "the dark one",
        "clean, 38 dB", "81.2 of 100", "6.5", "Device reading", "Made on 2026-03-02", "Written 2026-03-05 18:00",
        "<b>warm</b>",
    ):  # fmt: skip
        assert value in said, value


def test_a_dozen_settings_stand_on_one_page() -> None:
    (page,) = pages_of(state_of(knobs=8))
    assert page.extract_text().count("9:15") == 8


def test_no_letter_is_smaller_than_11_points_nor_outside_the_margins() -> None:
    found: list[tuple[str, float, float, float]] = []

    def _see(text: str, matrix: list[float], _: object, __: object, size: float) -> None:
        if text.strip():
            found.append((text.strip(), size, matrix[4], matrix[5]))

    for page in pages_of(state_of("a long word " * 400 + "W" * 300, knobs=9)):
        page.extract_text(visitor_text=_see)
    assert len(found) > 50
    assert min(size for _, size, _, _ in found) >= 11.0
    for text, size, x, y in found:
        assert x >= 39.9
        assert x + width_of(text, size) <= 595.28 - 39.9
        assert 39.9 <= y <= 841.89 - 39.9


def test_what_does_not_fit_goes_on_to_another_page() -> None:
    note = " ".join(f"word{place}" for place in range(1200))
    pages = pages_of(state_of(note))
    assert len(pages) > 1
    said = " ".join(page.extract_text() for page in pages)
    assert all(word in said for word in note.split())


def test_signs_of_typesetting_are_plain_letters() -> None:
    assert "costs $5 or $6_x^2" in pages_of(state_of("costs $5 or $6_x^2"))[0].extract_text()


def test_the_same_sheet_is_the_same_file() -> None:
    assert recall_pdf(state_of(), 1, "x") == recall_pdf(state_of(), 1, "x")


def test_letters_that_the_type_does_not_have_are_told() -> None:
    with pytest.raises(BadInput, match="has no '録'"):
        recall_pdf(state_of("録音"), 1)


def test_a_trial_that_is_not_there_is_told() -> None:
    with pytest.raises(NotFound):
        recall_pdf(state_of(), 2)


def test_lines_are_as_wide_as_they_may_be_and_no_wider() -> None:
    text = "two words and oneverylongwordthatfitsnowhere " * 5
    lines = wrapped(text, 11.0, 90.0)
    assert all(width_of(line, 11.0) <= 90.0 for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert wrapped("", 11.0, 90.0) == []
