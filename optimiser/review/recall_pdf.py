"""A recall sheet as PDF: A4, black on white, 11 points or more, values in large type.

One page holds a dozen settings; what does not fit goes on to another page, nothing is left out.
"""

from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING, Final

from optimiser.errors import BadInput
from optimiser.review.recall_sheet import NOON, Recall, RecallBox, recall_of, towards
from optimiser.study import StudyState
from optimiser.units import DIAL_HIGH_HOURS, DIAL_LOW_HOURS

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH: Final = 595.28
HEIGHT: Final = 841.89
"""Points of an A4 page, 210 x 297 mm (ISO 216), with 72 points to the inch."""

MARGIN: Final = 40.0
GAP: Final = 9.0
PAD: Final = 8.0
COLUMNS: Final = 3
TEXT: Final = 11.0
LARGE: Final = (24.0, 20.0, 16.0, 13.0)
"""Points of a value, the largest in which it takes up to two lines (own choice)."""

LEADING: Final = 1.35
"""Height of a line, in sizes of its type (own choice)."""

DIAL: Final = 32.0
"""Points from a dial's middle to the ends of its marks (own choice)."""

_INSIDE: Final = (WIDTH - 2 * MARGIN - (COLUMNS - 1) * GAP) / COLUMNS - 2 * PAD


def recall_pdf(state: StudyState, number: int, written: str = "") -> bytes:
    """The recall sheet of a trial as PDF; `written` says when that was, as it shall be shown.

    Raises:
        NotFound: no such trial.
        BadInput: letters that the PDF's type does not have.
    """
    told = recall_of(state, number, written)
    _check_letters(told)
    paper = _Paper()
    paper.lines(wrapped(told.title, 20.0, WIDTH - 2 * MARGIN, bold=True), 20.0, bold=True)
    paper.lines([told.dates], TEXT)
    paper.heading("Set")
    for first in range(0, len(told.boxes), COLUMNS):
        paper.row([_Box(box) for box in told.boxes[first : first + COLUMNS]])
    for heading, rows in told.tables:
        paper.heading(heading)
        for name, value in rows:
            paper.entry(name, value)
    if told.note:
        paper.heading("Note")
        for paragraph in told.note.splitlines():
            paper.lines(wrapped(paragraph, TEXT, WIDTH - 2 * MARGIN), TEXT)
    return paper.pdf(told.title)


def wrapped(text: str, size: float, width: float, *, bold: bool = False) -> list[str]:
    """Lines no wider than `width` points; a word that is too long by itself is broken."""
    lines = [""]
    for word in text.split():
        joined = f"{lines[-1]} {word}".strip()
        if width_of(joined, size, bold=bold) <= width:
            lines[-1] = joined
            continue
        lines.append("")
        for letter in word:
            if width_of(lines[-1] + letter, size, bold=bold) > width:
                lines.append("")
            lines[-1] += letter
    return [line for line in lines if line]


def width_of(text: str, size: float, *, bold: bool = False) -> float:
    """Width of a line in points."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    kind = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal", size=size)
    return float(text_to_path.get_text_width_height_descent(text, kind, ismath=False)[0])


def _check_letters(told: Recall) -> None:
    from matplotlib.font_manager import FontProperties, findfont, get_font

    known = get_font(findfont(FontProperties(family="DejaVu Sans", weight="bold"))).get_charmap()
    said = [told.title, told.note, *(word for _, rows in told.tables for row in rows for word in row)]
    said += [word for box in told.boxes for word in (box.name, box.shown, *box.more)]
    missing = next((letter for text in said for letter in "".join(text.split()) if ord(letter) not in known), None)
    if missing is not None:
        raise BadInput(f"The PDF's type has no {missing!r}.", "Write the sheet as HTML: --out FILE.html.")


class _Box:
    """A setting laid out: the lines of its value, and how high it is."""

    def __init__(self, box: RecallBox) -> None:
        self.box = box
        self.name = wrapped(box.name, TEXT, _INSIDE)
        self.left = 0.0 if box.hours is None else 2 * DIAL + PAD
        width = _INSIDE - self.left
        fitting = (size for size in LARGE if len(wrapped(box.shown, size, width, bold=True)) <= 2)
        self.size = next(fitting, LARGE[-1])
        self.value = wrapped(box.shown, self.size, width, bold=True)
        self.more = [line for said in box.more for line in wrapped(said, TEXT, _INSIDE)]
        said = LEADING * len(self.value) * self.size
        self.middle = said if box.hours is None else max(said, 2 * DIAL + PAD)
        self.height = 2 * PAD + LEADING * (len(self.name) + len(self.more)) * TEXT + self.middle


class _Paper:
    """Pages that are filled from the top."""

    def __init__(self) -> None:
        self.pages: list[Figure] = []
        self.place = 0.0
        self.turn()

    def turn(self) -> None:
        """Begin another page."""
        from matplotlib.figure import Figure
        from matplotlib.transforms import Affine2D

        self.pages.append(Figure(figsize=(WIDTH / 72, HEIGHT / 72), facecolor="white"))
        self.points = Affine2D().scale(1 / 72) + self.pages[-1].dpi_scale_trans
        self.place = HEIGHT - MARGIN

    def need(self, height: float) -> None:
        """Turn the page where so much does not fit any more."""
        if self.place - height < MARGIN:
            self.turn()

    def say(self, x: float, text: str, size: float, *, bold: bool = False) -> None:
        """One line whose top lies at the present place."""
        self.pages[-1].text(
            x, self.place - size, text, transform=self.points, size=size, family="DejaVu Sans", color="black",
            weight="bold" if bold else "normal", va="baseline", parse_math=False,
        )  # fmt: skip

    def lines(self, lines: Sequence[str], size: float, x: float = MARGIN, *, bold: bool = False) -> None:
        """Lines below each other."""
        for line in lines:
            self.need(LEADING * size)
            self.say(x, line, size, bold=bold)
            self.place -= LEADING * size

    def heading(self, text: str) -> None:
        """A heading with a rule below it, together with what follows."""
        self.need(80.0)
        self.place -= 10.0
        self.lines([text], 13.0, bold=True)
        self.stroke((MARGIN, self.place), (WIDTH - MARGIN, self.place), 1.0)
        self.place -= PAD

    def entry(self, name: str, value: str) -> None:
        """A row of a table: its name, then its value in bold."""
        middle = MARGIN + 170.0
        names, values = wrapped(name, TEXT, 160.0), wrapped(value, TEXT, WIDTH - MARGIN - middle, bold=True)
        for line in range(max(len(names), len(values))):
            self.need(LEADING * TEXT)
            self.say(MARGIN, names[line] if line < len(names) else "", TEXT)
            self.say(middle, values[line] if line < len(values) else "", TEXT, bold=True)
            self.place -= LEADING * TEXT

    def row(self, boxes: Sequence[_Box]) -> None:
        """Boxes beside each other, as high as the highest."""
        from matplotlib.patches import Rectangle

        height = max(box.height for box in boxes)
        self.need(height)
        top = self.place
        for column, box in enumerate(boxes):
            left = MARGIN + column * (_INSIDE + 2 * PAD + GAP)
            corner = (left, top - height)
            frame = Rectangle(corner, _INSIDE + 2 * PAD, height, fill=False, lw=1.5, transform=self.points)
            self.pages[-1].add_artist(frame)
            self.place = top - PAD
            self.lines(box.name, TEXT, left + PAD)
            if box.box.hours is not None:
                self.dial(left + PAD + DIAL, box.box.hours)
            below = self.place - box.middle
            self.place -= (box.middle - LEADING * len(box.value) * box.size) / 2
            self.lines(box.value, box.size, left + PAD + box.left, bold=True)
            self.place = below
            self.lines(box.more, TEXT, left + PAD)
        self.place = top - height - GAP

    def dial(self, x: float, hours: float) -> None:
        """A clock dial as the knob is seen, 7:00 round to 5:00, its top at the present place."""
        from matplotlib.patches import Circle

        y = self.place - PAD - DIAL
        self.pages[-1].add_artist(Circle((x, y), 0.75 * DIAL, fill=False, lw=1.5, transform=self.points))
        marks = range(round(DIAL_LOW_HOURS), round(DIAL_HIGH_HOURS) + 1)
        strokes = [(float(mark), 0.85, 1.0, 2.5 if mark == NOON else 1.2) for mark in marks]
        for hour, inner, outer, width in (*strokes, (hours, 0.15, 0.75, 4.0)):
            right, down = towards(hour)
            ends = [(x + DIAL * part * right, y - DIAL * part * down) for part in (inner, outer)]
            self.stroke(ends[0], ends[1], width)

    def stroke(self, start: tuple[float, float], end: tuple[float, float], width: float) -> None:
        """A black line."""
        from matplotlib.lines import Line2D

        line = Line2D(*zip(start, end, strict=True), lw=width, color="black", transform=self.points)
        self.pages[-1].add_artist(line)

    def pdf(self, title: str) -> bytes:
        """All pages as one file, the same bytes for the same sheet."""
        from matplotlib import rc_context
        from matplotlib.backends.backend_pdf import PdfPages

        written = BytesIO()
        about = {"Title": title, "Creator": None, "Producer": None, "CreationDate": None}
        with rc_context({"pdf.fonttype": 42}), PdfPages(written, metadata=about) as pages:
            for page in self.pages:
                pages.savefig(page)
        return written.getvalue()
