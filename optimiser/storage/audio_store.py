"""Recordings, each kept once under the SHA-256 of its bytes.

A file is written under a temporary name, synced, moved into place, its folder synced, and only then entered in the
database: a crash leaves at worst a file that nobody points at, never an entry without its file.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from optimiser.errors import BadInput, NotFound
from optimiser.storage.folders import need_room
from optimiser.storage.shelf import INCOMING, SHA256, AudioFile, copy_block_by_block, draft_in, move_in, place_in

if TYPE_CHECKING:
    from optimiser.storage.connections import Connections


class AudioStore:
    """The folder of recordings and its entries in the database."""

    def __init__(self, folder: Path, connections: "Connections") -> None:
        self._folder = folder
        self._connections = connections

    @property
    def folder(self) -> Path:
        """Where the recordings lie."""
        return self._folder

    def keep(self, path: Path, *, kind: str = "recording", name: str = "") -> AudioFile:
        """Copy a recording into the store; one whose bytes are there already is not stored twice.

        `name` is what it is called where that is not the file's own name.

        Raises:
            NotFound: there is no such file.
            BadInput: it cannot be read.
            StorageError: there is no room, or the folder cannot be written; nothing was kept.
            Busy: somebody else held the right to write for too long.
        """
        from optimiser.storage.faults import told

        with _source(path) as source, told(str(self._folder)):
            incoming = self._room_for(path)
            with draft_in(incoming) as draft:
                kept = copy_block_by_block(source, draft, name or path.name)
                with self._connections.writing():
                    move_in(draft, self._folder, kept.sha256)
                    self.enter(kept, kind)
        return kept

    def path(self, sha256: str) -> Path:
        """Where a kept recording lies, to be read and never to be written.

        Raises:
            NotFound: none with that SHA-256.
        """
        from optimiser.storage.faults import told

        path = place_in(self._folder, sha256) if SHA256.fullmatch(sha256) else None
        with told(str(self._folder)):
            if path is None or not path.is_file():
                raise NotFound(f"There is no recording {sha256[:12]!r} in the store.", "Name the file again.")
        return path

    def entries(self) -> tuple[AudioFile, ...]:
        """Every recording that is entered, whether or not its file is still there."""
        from optimiser.storage.queries import audio_files

        with self._connections.reading() as connection:
            return audio_files(connection)

    def enter(self, kept: AudioFile, kind: str = "recording") -> None:
        """Enter a recording whose file is in place; one that is entered stays as it is. Only within `writing()`."""
        from optimiser.storage.queries import add_audio, has_audio

        with self._connections.transaction() as connection:
            if not has_audio(connection, kept.sha256):
                add_audio(connection, kept, kind)

    def _room_for(self, path: Path) -> Path:
        """The folder for files on their way in, when there is room for one more."""
        incoming = self._folder / INCOMING
        incoming.mkdir(parents=True, exist_ok=True)
        need_room(incoming, path.stat().st_size, path.name)
        return incoming


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
