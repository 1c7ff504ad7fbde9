"""Figures of takes that were measured elsewhere, one line of JSON each, with a sum by which a damaged line is seen."""

import hashlib
import json
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from optimiser.errors import BadInput, StorageError
from optimiser.study import canonical_json
from optimiser.workflow.files import make_folder, read_text
from optimiser.workflow.views import View

_SUM: Final = "sum"
_ENTRIES: Final = {"study", "trial", "recordings", "layout", "was", "measure_version", "scores", "details"}


@dataclass(frozen=True)
class Line:
    """One line of a file.

    Attributes:
        place: file and number of the line.
        found: the figures, None when the line is damaged.
    """

    place: str
    found: View | None


def lines_of(paths: Iterable[Path]) -> list[Line]:
    """Every line of some files.

    Raises:
        NotFound: no such file.
        BadInput: a file without a single whole line.
    """
    lines: list[Line] = []
    for path in paths:
        own = list(_lines(read_text(path), path.name))
        if not any(line.found for line in own):
            raise BadInput(f"{path.name} holds no measured takes.", "Name a file that remeasure --out wrote.")
        lines += own
    return lines


def known_lines(path: Path) -> list[View]:
    """What a file holds already; nothing when it is not there.

    Raises:
        BadInput: it holds something else.
    """
    if not path.exists():
        return []
    lines = list(_lines(read_text(path), path.name))
    known = [line.found for line in lines if line.found]
    if lines and not known:
        raise BadInput(f"{path.name} holds something else than measured takes.", "Name another file.")
    return known


def add_line(path: Path, found: View) -> None:
    """Write one more line, which is on the disk on return; a torn line before it is ended.

    Raises:
        StorageError: the file cannot be written.
    """
    make_folder(path.parent)
    line = json.dumps({**found, _SUM: _sum_of(found)}, allow_nan=False).encode() + b"\n"
    try:
        with path.open("ab+") as file:
            if file.tell():
                file.seek(-1, os.SEEK_END)
                line = line if file.read(1) == b"\n" else b"\n" + line
            file.write(line)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise StorageError(
            f"{path} cannot be written: {error.strerror}.", "Name a place that you may write to."
        ) from None


def _lines(text: str, name: str) -> Iterator[Line]:
    for number, line in enumerate(text.split("\n"), start=1):
        if line.strip():
            yield Line(f"{name} line {number}", _found(line))


def _found(line: str) -> View | None:
    try:
        entries: Any = json.loads(line)
    except (json.JSONDecodeError, RecursionError):
        return None
    if not isinstance(entries, dict) or set(entries) != _ENTRIES | {_SUM}:
        return None
    return entries if entries.pop(_SUM) == _sum_of(entries) else None


def _sum_of(found: View) -> str:
    return hashlib.sha256(canonical_json(found).encode()).hexdigest()
