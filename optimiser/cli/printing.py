"""How views become lines of at most 80 columns."""

import json
import math
import os
import textwrap
from collections.abc import Iterable, Iterator
from typing import Final

from optimiser import units

WIDTH: Final = 80
"""Columns of a plain terminal."""

BAR: Final = 30
"""Columns of a bar."""


def as_json(view: object) -> str:
    """One JSON document; numbers that are not finite become null."""
    from optimiser.workflow import finite

    return json.dumps(finite(view), ensure_ascii=False, indent=2, allow_nan=False)


def paragraph(text: str, indent: int = 0, label: str = "") -> Iterator[str]:
    """Text wrapped to the width, its first line led in by a label."""
    lead = label.ljust(indent) if label else " " * indent
    yield from textwrap.wrap(text, WIDTH, initial_indent=lead, subsequent_indent=" " * indent) or [lead.rstrip()]


def columns(rows: Iterable[tuple[str, ...]], indent: int = 2) -> Iterator[str]:
    """Rows as columns; the last one may be long and is wrapped."""
    table = [tuple(row) for row in rows]
    if not table:
        return
    widths = [max(len(row[place]) for row in table) for place in range(len(table[0]) - 1)]
    for row in table:
        lead = " " * indent + "".join(cell.ljust(width + 2) for cell, width in zip(row[:-1], widths, strict=True))
        yield from (line.rstrip() for line in paragraph(row[-1], len(lead), lead))


def number(value: float | None, digits: int = 1) -> str:
    """A figure to fixed decimals, a dash where there is none."""
    return "-" if value is None or not math.isfinite(value) else f"{value:.{digits}f}"


def plus_minus(value: float | None, error: float | None, digits: int = 1) -> str:
    """A score with half of its 90 % interval, from its standard error."""
    known = value is not None and math.isfinite(value) and error
    return units.plus_minus(value or 0.0, error or 0.0, digits) if known else number(value, digits)


def count(how_many: int, what: str) -> str:
    """`1 trial`, `2 trials`."""
    return f"{how_many} {what}{'' if how_many == 1 else 's'}"


def listed(items: Iterable[object]) -> str:
    """`8`, `8 and 9`, `8, 9 and 10`."""
    *rest, last = [str(item) for item in items]
    return f"{', '.join(rest)} and {last}" if rest else last


def percent(share: float | None) -> str:
    """A share of 1 as per cent."""
    return "-" if share is None or not math.isfinite(share) else f"{100 * share:.0f} %"


def bar(share: float) -> str:
    """A bar for a share of 1."""
    filled = round(BAR * min(1.0, max(0.0, share)))
    return "#" * filled + "." * (BAR - filled)


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
