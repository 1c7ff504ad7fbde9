"""The one right to write to a file, over all processes of a machine."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from optimiser.storage.faults import in_turn, told

_POLL_S: Final = 0.01
"""Seconds between two looks at the lock; a write takes about that long (no source)."""


@contextmanager
def locked(file: Path, shown: str, wait_s: float) -> Iterator[None]:
    """Hold the right to write to a database file; it is given back when the process ends, however it ends.

    Raises:
        Busy: another process had not finished after `wait_s` seconds.
    """
    from filelock import FileLock, Timeout

    lock = FileLock(f"{file}.lock")
    with told(shown):
        try:
            lock.acquire(timeout=wait_s, poll_interval=_POLL_S)
        except Timeout as timeout:
            raise in_turn(shown, wait_s) from timeout
    try:
        yield
    finally:
        lock.release()
