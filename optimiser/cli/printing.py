"""How views become lines of at most 80 columns."""

import json
import math
import os
import sys
import textwrap
from collections.abc import Iterable, Iterator
from typing import Final, TextIO

from optimiser import units

WIDTH: Final = 80
"""Columns of a plain terminal."""

BAR: Final = 30
"""Columns of a bar."""

_LEAST: Final = 20
"""Columns that text gets beside its lead, and on the narrowest of terminals (a choice, no source)."""


def as_json(view: object) -> str:
    """One JSON document; numbers that are not finite become null."""
    from optimiser.workflow import finite

    return json.dumps(finite(view), ensure_ascii=False, indent=2, allow_nan=False)


def width_of(stream: TextIO) -> int:
    """Columns to fill: 80, or fewer where a narrower terminal shows them."""
    if not stream.isatty():
        return WIDTH
    return min(WIDTH, max(os.get_terminal_size(stream.fileno()).columns or WIDTH, _LEAST))


def wrapped(text: str, lead: str, indent: int, width: int) -> list[str]:
    """Text behind its lead in lines of this width; no word is broken, so that paths can be copied."""
    return textwrap.wrap(
        text,
        width,
        initial_indent=lead,
        subsequent_indent=" " * indent,
        break_long_words=False,
        break_on_hyphens=False,
    ) or [lead.rstrip()]


def paragraph(text: str, indent: int = 0, label: str = "") -> Iterator[str]:
    """Text wrapped to the width, its first line led in by a label."""
    lead = label.ljust(indent) if label else " " * indent
    yield from wrapped(text, lead, indent, width_of(sys.stdout))


def whole(lead: str, text: str) -> Iterator[str]:
    """What is to be copied, in one piece: behind its lead where that fits, else on a line of its own."""
    if len(lead) + 1 + len(text) <= width_of(sys.stdout):
        yield f"{lead} {text}"
    else:
        yield from paragraph(lead)
        yield f"  {text}"


def warned(text: str) -> list[str]:
    """A message for stderr, each of its lines wrapped; where there are several, they are told apart by their indent."""
    lines = text.splitlines()
    indent = 2 if len(lines) > 1 else 0
    width = width_of(sys.stderr)
    return [piece for line in lines for piece in wrapped(line, "", indent, width)]


def columns(rows: Iterable[tuple[str, ...]], indent: int = 2) -> Iterator[str]:
    """Rows as columns; the last one may be long and is wrapped, below the others where these leave no room."""
    table = [tuple(row) for row in rows]
    if not table:
        return
    widths = [max(len(row[place]) for row in table) for place in range(len(table[0]) - 1)]
    for row in table:
        lead = " " * indent + "".join(cell.ljust(width + 2) for cell, width in zip(row[:-1], widths, strict=True))
        if len(lead) + _LEAST > WIDTH:
            yield lead.rstrip()
            yield from paragraph(row[-1], indent + 2)
        else:
            yield from (line.rstrip() for line in paragraph(row[-1], len(lead), lead))


def number(value: float | None, digits: int = 1) -> str:
    """A figure to fixed decimals, a dash where there is none."""
    return "-" if value is None or not math.isfinite(value) else f"{value:.{digits}f}"


def plus_minus(value: float | None, error: float | None, digits: int = 1) -> str:
    """A score with half of its 90 % interval, from its standard error."""
    known = value is not None and math.isfinite(value) and error
    return units.plus_minus(value or 0.0, error or 0.0, digits) if known else number(value, digits)


def of_100(score: float, error: float | None) -> str:
    """An overall score; on a scale of its own where it lies beyond 0 to 100."""
    low, high = units.SCORE_SCALE
    return f"{plus_minus(score, error)}{f' of {high:g}' if low <= score <= high else ''}"


def count(how_many: int, what: str) -> str:
    """`1 trial`, `2 trials`."""
    return f"{how_many} {what}{'' if how_many == 1 else 's'}"


def listed(items: Iterable[object]) -> str:
    """`8`, `8 and 9`, `8, 9 and 10`."""
    *rest, last = [str(item) for item in items]
    return f"{', '.join(rest)} and {last}" if rest else last


def capital(text: str) -> str:
    """With its first letter as at the beginning of a sentence; what follows stays as it is."""
    return text[:1].upper() + text[1:]


def percent(share: float | None) -> str:
    """A share of 1 as per cent."""
    return "-" if share is None or not math.isfinite(share) else f"{100 * share:.0f} %"


def bar(share: float, mark: str = "#") -> str:
    """A bar for a share of 1."""
    filled = round(BAR * min(1.0, max(0.0, share)))
    return mark * filled + "." * (BAR - filled)


def size(bytes_: int) -> str:
    """A number of bytes as people say it, in thousands."""
    for unit, factor in (("GB", 1e9), ("MB", 1e6), ("kB", 1e3)):
        if bytes_ >= factor:
            return f"{bytes_ / factor:.1f} {unit}"
    return f"{bytes_} bytes"


def near(path: str) -> str:
    """A path as it is said from here: relative when it lies below the present folder."""
    here = f"{os.getcwd()}{os.sep}"
    return path.removeprefix(here)
