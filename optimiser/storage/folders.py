"""Folders whose entries outlive a power cut."""

import os
from pathlib import Path


def sync_folder(folder: Path) -> None:
    """Write a folder's entries through to the disk; a renamed file is safe only then."""
    if os.name == "nt":
        return  # a folder cannot be opened there, and renames are journalled
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
