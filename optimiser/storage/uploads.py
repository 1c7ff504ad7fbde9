"""Files on their way in, piece by piece: what is there outlives a lost connection and a restart.

The size of the file on the disk is the offset at which the next piece goes; nothing else keeps count. What a file is
called by its sender is a label beside it and never a path.
"""

import hashlib
import json
import os
import re
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from optimiser.errors import BadInput, BadUse, NotFound, StorageError
from optimiser.storage.folders import sync_folder

UNFINISHED_S: Final = 3600.0
"""Seconds after its last byte when an unfinished upload is dropped (no source)."""

UNUSED_S: Final = 86_400.0
"""Seconds after which a whole upload that nothing used is dropped (no source)."""

MOST_UNFINISHED: Final = 32
"""Uploads that may be on their way at one time (no source)."""

RESERVE_BYTES: Final = 500 << 20
"""Left free beside twice the upload, which is copied once more when it is kept (no source)."""

_ID: Final = re.compile(r"[0-9a-f]{32}")
_BLOCK_BYTES: Final = 1 << 20


@dataclass(frozen=True)
class Upload:
    """A file on its way in.

    Attributes:
        id: 32 hexadecimal digits.
        name: what the sender calls it, a label.
        bytes: how many there will be.
        sha256: of the whole, in hexadecimal.
        offset: bytes that are safely here.
        whole: whether it is complete and its sum was right.
        path: where it lies, to be read once it is whole.
    """

    id: str
    name: str
    bytes: int
    sha256: str
    offset: int
    whole: bool
    path: Path


class WrongOffset(BadUse):
    """A piece that does not go where it was sent. `offset` is where the next one goes."""

    code = "wrong_offset"

    def __init__(self, offset: int) -> None:
        super().__init__(f"The next piece goes to byte {offset}.", "Ask where to go on, then send from there.")
        self.offset = offset


class UploadFolder:
    """The files on their way in."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def begin(self, name: str, size_bytes: int, sha256: str, now: datetime, key: str = "") -> Upload:
        """Make room for a file; the same key and figures again give the upload that is there.

        Raises:
            BadUse: the key belongs to another file, or too many are on their way.
            StorageError: there is no room, or the folder cannot be written.
        """
        from optimiser.storage.faults import told

        upload = hashlib.sha256(f"upload {key}".encode()).hexdigest()[:32] if key else secrets.token_hex(16)
        with told(str(self._folder)):
            self._folder.mkdir(parents=True, exist_ok=True)
            self.sweep(now)
            if self._label(upload).exists():
                known = self.get(upload)
                if (known.bytes, known.sha256) != (size_bytes, sha256):
                    raise BadUse(f"The key {key} belongs to another file.", "Give each upload a key of its own.")
                return known
            if sum(1 for _ in self._folder.glob("*.part")) >= MOST_UNFINISHED:
                raise BadUse(f"{MOST_UNFINISHED} uploads are not finished.", "Finish them, or wait an hour.")
            if shutil.disk_usage(self._folder).free < 2 * size_bytes + RESERVE_BYTES:
                raise StorageError(f"There is no room left for {name}.", "Make room on the disk, then try again.")
            self._part(upload).touch()
            label = self._label(upload)
            label.write_text(json.dumps({"name": name, "bytes": size_bytes, "sha256": sha256}))
            sync_folder(self._folder)
        return self.get(upload)

    def get(self, upload: str) -> Upload:
        """How far an upload is.

        Raises:
            NotFound: there is none of that id, or its time is over.
        """
        try:
            if _ID.fullmatch(upload) is None:
                raise FileNotFoundError
            told: dict[str, Any] = json.loads(self._label(upload).read_text())
            whole = self._whole(upload)
            path = whole if whole.exists() else self._part(upload)
            return Upload(upload, **told, offset=path.stat().st_size, whole=path == whole, path=path)
        except (FileNotFoundError, json.JSONDecodeError):
            raise NotFound(
                f"There is no upload {upload[:32]!r}.", "Begin it again; unfinished ones are dropped after an hour."
            ) from None

    def add(self, upload: str, offset: int, piece: bytes) -> Upload:
        """Add the next piece, on the disk when this returns; with the last one the sum of the whole is checked.

        Raises:
            NotFound: no such upload.
            WrongOffset: the piece does not start where the next one goes.
            BadInput: more bytes than were announced, or another sum than announced; the upload is dropped then.
            StorageError: the disk is full or failed; the piece was not kept.
        """
        from optimiser.storage.faults import told

        with self._alone(upload), told("the upload"):
            found = self.get(upload)
            if found.offset != offset:
                raise WrongOffset(found.offset)
            if found.offset + len(piece) > found.bytes:
                raise BadInput(
                    f"{found.name} grew beyond the {found.bytes} bytes that were announced.", "Begin the upload again."
                )
            if not found.whole:
                self._write(found, piece)
                if found.offset + len(piece) == found.bytes:
                    self._finish(found)
            return self.get(upload)

    def drop(self, upload: str) -> None:
        """Forget an upload; one that is not there is forgotten already."""
        if _ID.fullmatch(upload) is not None:
            for path in (self._label(upload), self._part(upload), self._whole(upload), self._lock(upload)):
                path.unlink(missing_ok=True)

    def sweep(self, now: datetime) -> None:
        """Drop what was left unfinished or unused."""
        newest: dict[str, float] = {}
        for path in self._folder.iterdir() if self._folder.is_dir() else ():
            with suppress(FileNotFoundError):
                newest[path.stem] = max(newest.get(path.stem, 0.0), path.stat().st_mtime)
        for upload, changed_s in newest.items():
            limit_s = UNUSED_S if self._whole(upload).exists() else UNFINISHED_S
            if now.timestamp() - changed_s > limit_s:
                self.drop(upload)

    def _write(self, found: Upload, piece: bytes) -> None:
        """Write at the end, and be back where it started when that fails."""
        with found.path.open("r+b") as file:
            file.seek(found.offset)
            try:
                file.write(piece)
                file.flush()
                os.fsync(file.fileno())
            except BaseException:
                os.truncate(file.fileno(), found.offset)
                raise

    def _finish(self, found: Upload) -> None:
        digest = hashlib.sha256()
        with found.path.open("rb") as file:
            while block := file.read(_BLOCK_BYTES):
                digest.update(block)
        if digest.hexdigest() != found.sha256:
            self.drop(found.id)
            raise BadInput(f"{found.name} arrived damaged: its SHA-256 is another.", "Send it again from the start.")
        os.replace(found.path, self._whole(found.id))
        sync_folder(self._folder)

    @contextmanager
    def _alone(self, upload: str) -> Iterator[None]:
        """One writer to an upload at a time, whichever process it is."""
        from filelock import FileLock, Timeout

        self.get(upload)
        lock = FileLock(self._lock(upload))
        try:
            lock.acquire(timeout=0)
        except Timeout:
            raise WrongOffset(self.get(upload).offset) from None
        try:
            yield
        finally:
            lock.release()

    def _label(self, upload: str) -> Path:
        return self._folder / f"{upload}.json"

    def _part(self, upload: str) -> Path:
        return self._folder / f"{upload}.part"

    def _whole(self, upload: str) -> Path:
        return self._folder / f"{upload}.whole"

    def _lock(self, upload: str) -> Path:
        return self._folder / f"{upload}.lock"
