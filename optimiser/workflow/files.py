"""Small text files of the practitioner, read and written with a plain word when that fails."""

import hashlib
from pathlib import Path
from typing import Final

from optimiser.errors import BadInput, NotFound, StorageError

LARGEST_TEXT_BYTES: Final = 50_000_000
"""Bytes; a sheet or an exported study is smaller (no source)."""


def read_text(path: Path) -> str:
    """The text of a file in UTF-8.

    Raises:
        NotFound: no such file.
        BadInput: a folder, a file that is too large, or one that is no text.
    """
    try:
        if path.stat().st_size > LARGEST_TEXT_BYTES:
            raise BadInput(f"{path.name} is too large.", "Name a study sheet in TOML or an exported study in JSON.")
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise NotFound(f"There is no file {path}.", "Check its name.") from None
    except UnicodeDecodeError:
        raise BadInput(f"{path.name} is no text.", "Save it as UTF-8.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise BadInput(f"{path.name} cannot be read: {reason}.", "Name a text file that you may read.") from None


def write_file(path: Path, content: str | bytes) -> Path:
    """Write one file, its folder made when it is missing.

    Raises:
        StorageError: it cannot be written.
    """
    make_folder(path.parent)
    try:
        path.write_bytes(content.encode() if isinstance(content, str) else content)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise StorageError(f"{path} cannot be written: {reason}.", "Name a place that you may write to.") from None
    return path


def make_folder(path: Path) -> Path:
    """A folder that is there, with those above it.

    Raises:
        StorageError: it cannot be made.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise StorageError(f"{path} cannot be made: {reason}.", "Name a place that you may write to.") from None
    return path


def sum_of(path: Path) -> str:
    """SHA-256 of a file's bytes, in hexadecimal.

    Raises:
        NotFound: no such file.
        BadInput: it cannot be read.
    """
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except FileNotFoundError:
        raise NotFound(f"There is no file {path}.", "Check its name.") from None
    except OSError as error:
        raise BadInput(f"{path.name} cannot be read: {error.strerror}.", "See that you may read it.") from None
