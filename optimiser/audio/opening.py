"""Opening what a recording comes from: a path, bytes, or an open file."""

import io
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from optimiser.errors import InvalidRecording, NotFound

Source = str | Path | bytes | BinaryIO
"""A file's path, its bytes, or a binary file that can seek."""


@dataclass(frozen=True)
class Opened:
    """An open source.

    Attributes:
        stream: at the first byte.
        size: bytes in it.
        name: what it is called in messages, on one line.
        changed_ns: when a file on disk was last changed; 0 for bytes and open files.
    """

    stream: BinaryIO
    size: int
    name: str
    changed_ns: int = 0


@contextmanager
def opened(source: Source) -> Iterator[Opened]:
    """Open a source for reading.

    Raises:
        NotFound: no such file.
        InvalidRecording: with fault `unreadable`, for a folder, a pipe, a device or a file that may not be read.
    """
    if not isinstance(source, (str, Path)):
        stream: BinaryIO = io.BytesIO(source) if isinstance(source, bytes) else source
        size = stream.seek(0, io.SEEK_END)
        stream.seek(0)
        yield Opened(stream, size, "The recording")
        return
    path = Path(source)
    name = shown_name(path)
    try:
        if not stat.S_ISREG(_mode(path)):
            raise _unreadable(name, "it is a folder, a pipe or a device")
        with path.open("rb") as file:
            found = path.stat()
            yield Opened(file, found.st_size, name, found.st_mtime_ns)
    except FileNotFoundError:
        raise NotFound(f"There is no file {printable(str(path))}.", "Check the name and the folder.") from None
    except OSError as error:
        raise _unreadable(name, error.strerror or str(error)) from None


def _mode(path: Path) -> int:
    try:
        return path.stat().st_mode
    except ValueError as error:
        raise _unreadable(shown_name(path), str(error)) from None


def shown_name(path: Path) -> str:
    """A file's name as it can stand in a line of text."""
    return printable(path.name or str(path))


def printable(text: str) -> str:
    """The same text with a question mark for whatever breaks a line or cannot be shown."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)


def _unreadable(name: str, reason: str) -> InvalidRecording:
    return InvalidRecording(
        f"{name} cannot be read ({reason}).", "Name a sound file that you may read.", fault="unreadable"
    )
