"""Recordings seen as files in a folder: whether each is there and whole, and copies of them."""

import hashlib
import os
import re
import secrets
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final, Literal

from optimiser.storage.folders import need_room, sync_folder

BLOCK_BYTES: Final = 1 << 20
SHA256: Final = re.compile(r"[0-9a-f]{64}")
INCOMING: Final = "incoming"

LEFT_BEHIND_S: Final = 3600.0
"""Seconds after which a file on its way in counts as left behind by a crash (a choice, no source)."""

Health = Literal["whole", "missing", "damaged"]


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


@dataclass(frozen=True)
class Copied:
    """What copying a shelf of recordings came to.

    Attributes:
        copied: those that were written.
        known: those that lay there already, whole.
        lost: those that are missing or damaged where they should be copied from.
    """

    copied: tuple[AudioFile, ...] = ()
    known: tuple[AudioFile, ...] = ()
    lost: tuple[AudioFile, ...] = ()


def place_in(folder: Path, sha256: str) -> Path:
    """Where a recording lies."""
    return folder / sha256[:2] / sha256


def health(folder: Path, kept: AudioFile) -> Health:
    """Whether a recording is there, and its bytes are those that were kept; every byte is read."""
    path = place_in(folder, kept.sha256)
    if not path.is_file():
        return "missing"
    return "whole" if path.stat().st_size == kept.bytes and sum_of(path) == kept.sha256 else "damaged"


def sum_of(path: Path) -> str:
    """SHA-256 of a file as it lies on the disk, in hexadecimal; what the system still has in memory is read again."""
    with path.open("rb") as file:
        if hasattr(os, "posix_fadvise"):
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        return hashlib.file_digest(file, "sha256").hexdigest()


def copy_shelf(
    recordings: Iterable[AudioFile], source: Path, target: Path, tell: Callable[[str], None] = lambda _: None
) -> Copied:
    """Copy recordings from one folder to another; those that lie there whole are not written again.

    Each is written under a temporary name, synced, held against its SHA-256, and only then given its name.

    Raises:
        StorageError: the target has no room for them; nothing was copied.
    """
    from optimiser.storage.faults import told

    with told(str(target)):
        return _copy_shelf(tuple(recordings), source, target, tell)


def _copy_shelf(wanted: tuple[AudioFile, ...], source: Path, target: Path, tell: Callable[[str], None]) -> Copied:
    known = tuple(one for one in wanted if health(target, one) == "whole")
    new = [one for one in wanted if one not in known]
    if not new or same(source, target):
        return Copied(known=known, lost=tuple(new))
    target.mkdir(parents=True, exist_ok=True)
    need_room(target, sum(one.bytes for one in new), f"{len(new)} recordings in {target}")
    lost = []
    for place, one in enumerate(new, 1):
        tell(f"copying recording {place} of {len(new)}: {one.name}")
        if not _copied(one, place_in(source, one.sha256), target):
            lost.append(one)
    return Copied(tuple(one for one in new if one not in lost), known, tuple(lost))


def same(one: Path, other: Path) -> bool:
    """Whether two names stand for one folder."""
    return os.path.realpath(one) == os.path.realpath(other)


def files_on(folder: Path) -> Iterator[Path]:
    """Every file that lies where a recording would."""
    for path in sorted(folder.glob("??/*")):
        if path.is_file() and path.parent.name != INCOMING:
            yield path


def left_behind(folder: Path) -> list[Path]:
    """Files that a crash left on their way in."""
    before = time.time() - LEFT_BEHIND_S
    return [path for path in sorted((folder / INCOMING).glob("*")) if path.is_file() and path.stat().st_mtime < before]


@contextmanager
def draft_in(folder: Path) -> Iterator[Path]:
    """A name for a file on its way in; whatever is left under it is removed."""
    draft = folder / secrets.token_hex(16)
    try:
        yield draft
    finally:
        draft.unlink(missing_ok=True)


def copy_block_by_block(source: BinaryIO, draft: Path, name: str) -> AudioFile:
    """Copy to the disk, not only to its cache, taking the sum of what was really written."""
    digest, size_bytes = hashlib.sha256(), 0
    with draft.open("xb") as target:
        while block := source.read(BLOCK_BYTES):
            digest.update(block)
            size_bytes += len(block)
            target.write(block)
        target.flush()
        os.fsync(target.fileno())
    return AudioFile(digest.hexdigest(), size_bytes, name)


def move_in(draft: Path, folder: Path, sha256: str) -> None:
    """Give a recording its name, also in place of a file that lies there: that has the same bytes or is damaged."""
    target = place_in(folder, sha256)
    target.parent.mkdir(exist_ok=True)
    os.replace(draft, target)
    for synced in (target.parent, folder, folder.parent):
        sync_folder(synced)


def _copied(kept: AudioFile, path: Path, folder: Path) -> bool:
    """Whether a recording could be copied whole."""
    if not path.is_file():
        return False
    incoming = folder / INCOMING
    incoming.mkdir(exist_ok=True)
    with path.open("rb") as source, draft_in(incoming) as draft:
        written = copy_block_by_block(source, draft, kept.name)
        if written.sha256 != kept.sha256 or sum_of(draft) != kept.sha256:
            return False
        move_in(draft, folder, kept.sha256)
    return True
