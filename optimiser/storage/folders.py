"""Files, and folders with their entries, that outlive a power cut; and room for them."""

import os
import shutil
from pathlib import Path
from typing import Final

from optimiser.errors import StorageError

RESERVE_BYTES: Final = 1 << 20
"""Left free, so that the ledger can still be written beside a full shelf of recordings (no source)."""


def sync_folder(folder: Path) -> None:
    """Write a folder's entries through to the disk; a renamed file is safe only then."""
    if os.name == "nt":
        return  # a folder cannot be opened there, and renames are journalled
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_file(file: Path) -> None:
    """Write a file through to the disk, not only to its cache."""
    handle = os.open(file, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def need_room(folder: Path, size_bytes: int, what: str) -> None:
    """See that a disk has room before anything is written to it.

    Raises:
        StorageError: it has not.
    """
    free = shutil.disk_usage(folder).free
    if free < size_bytes + RESERVE_BYTES:
        wanted, there = (f"{amount / 1e6:.1f} MB" for amount in (size_bytes + RESERVE_BYTES, free))
        hint = f"It takes {wanted}, {there} are free. Make room on the disk, then try again."
        raise StorageError(f"There is no room left for {what}.", hint)
