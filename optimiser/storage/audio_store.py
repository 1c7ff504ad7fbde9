"""Recordings, each kept once under the SHA-256 of its bytes.

A file is written under a temporary name, synced, moved into place, its folder synced, and only then entered in the
database: a crash leaves at worst a file that nobody points at, never an entry without its file.
"""

import hashlib
import os
import re
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Final

from optimiser.errors import BadInput, NotFound, StorageError
from optimiser.storage.folders import sync_folder

if TYPE_CHECKING:
    from optimiser.storage.connections import Connections

_BLOCK_BYTES: Final = 1 << 20
_RESERVE_BYTES: Final = 1 << 20
"""Left free, so that the ledger can still be written beside a full shelf of recordings (no source)."""

_SHA256: Final = re.compile(r"[0-9a-f]{64}")
_INCOMING: Final = "incoming"


@dataclass(frozen=True)
class AudioFile:
    """A kept recording.

    Attributes:
        sha256: of its bytes, in hexadecimal; the name under which it is found.
        bytes: its size.
        name: what the file was called when it came in.
    """

    sha256: str
    bytes: int
    name: str


class AudioStore:
    """The folder of recordings and its entries in the database."""

    def __init__(self, folder: Path, connections: "Connections") -> None:
        self._folder = folder
        self._connections = connections

    def keep(self, path: Path, *, kind: str = "recording") -> AudioFile:
        """Copy a recording into the store; one whose bytes are there already is not stored twice.

        Raises:
            NotFound: there is no such file.
            BadInput: it cannot be read.
            StorageError: there is no room, or the folder cannot be written; nothing was kept.
            Busy: somebody else held the right to write for too long.
        """
        from optimiser.storage.faults import told

        with _source(path) as source, told(str(self._folder)):
            incoming = self._room_for(path)
            with _draft(incoming) as draft:
                kept = _copy(source, draft, path.name)
                with self._connections.writing():
                    self._place(draft, kept.sha256, kept.bytes)
                    self._enter(kept, kind)
        return kept

    def path(self, sha256: str) -> Path:
        """Where a kept recording lies, to be read and never to be written.

        Raises:
            NotFound: none with that SHA-256.
        """
        from optimiser.storage.faults import told

        path = self._path(sha256) if _SHA256.fullmatch(sha256) else None
        with told(str(self._folder)):
            if path is None or not path.is_file():
                raise NotFound(f"There is no recording {sha256[:12]!r} in the store.", "Name the file again.")
        return path

    def _path(self, sha256: str) -> Path:
        return self._folder / sha256[:2] / sha256

    def _room_for(self, path: Path) -> Path:
        """The folder for files on their way in, when there is room for one more."""
        incoming = self._folder / _INCOMING
        incoming.mkdir(parents=True, exist_ok=True)
        if shutil.disk_usage(incoming).free < path.stat().st_size + _RESERVE_BYTES:
            hint = "Make room on the disk, then try again; everything stored before is safe."
            raise StorageError(f"There is no room left for {path.name}.", hint)
        return incoming

    def _place(self, draft: Path, sha256: str, size_bytes: int) -> None:
        """Move a file into place; one that is there already may come from a crash before its folders were synced."""
        target = self._path(sha256)
        target.parent.mkdir(exist_ok=True)
        if not target.is_file() or target.stat().st_size != size_bytes:
            os.replace(draft, target)
        for folder in (target.parent, self._folder, self._folder.parent):
            sync_folder(folder)

    def _enter(self, kept: AudioFile, kind: str) -> None:
        from optimiser.storage.queries import add_audio, has_audio

        with self._connections.transaction() as connection:
            if not has_audio(connection, kept.sha256):
                add_audio(connection, kept.sha256, kept.bytes, kind, kept.name)


@contextmanager
def _source(path: Path) -> Iterator[BinaryIO]:
    try:
        source = path.open("rb")
    except FileNotFoundError as error:
        raise NotFound(f"There is no file {path}.", "Check the path.") from error
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else "no path has such a name"
        raise BadInput(f"{path} cannot be read: {why}.", "Name a sound file that you may read.") from error
    with source:
        yield source


@contextmanager
def _draft(folder: Path) -> Iterator[Path]:
    draft = folder / secrets.token_hex(16)
    try:
        yield draft
    finally:
        draft.unlink(missing_ok=True)


def _copy(source: BinaryIO, draft: Path, name: str) -> AudioFile:
    """Copy to the disk, not only to its cache, taking the sum of what was really written."""
    digest, size_bytes = hashlib.sha256(), 0
    with draft.open("xb") as target:
        while block := source.read(_BLOCK_BYTES):
            digest.update(block)
            size_bytes += len(block)
            target.write(block)
        target.flush()
        os.fsync(target.fileno())
    return AudioFile(digest.hexdigest(), size_bytes, name)
