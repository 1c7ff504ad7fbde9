"""Keeps one worker running beside the service, and starts another when it dies."""

import os
import secrets
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from typing import Final

from optimiser.errors import OptimiserError
from optimiser.service.desk import Desk

PATIENCE_S: Final = 5.0
"""Seconds that a worker has to end when the service does (a choice, no source)."""

LONGEST_PAUSE_S: Final = 30.0
"""Seconds between two starts of a worker that dies again and again (a choice, no source)."""

_SWEEP_S: Final = 300.0


class Keeper:
    """The worker's process, watched by a thread."""

    def __init__(self, desk: Desk, url: str) -> None:
        self._desk = desk
        self._url = url
        self._over = threading.Event()
        self._process: subprocess.Popen[str] | None = None
        self._guard = threading.Lock()

    def run(self) -> None:
        """Keep a worker running until `stop`."""
        pause_s = 1.0
        while not self._over.is_set():
            name = f"worker {secrets.token_hex(8)}"
            started = self._desk.clock()
            process = self._start(name)
            with self._guard:
                self._process = process
            if self._over.is_set():
                process.kill()  # it was started while the service stopped
                process.wait(PATIENCE_S)
            self._watch(process)
            with suppress(OptimiserError):
                self._desk.store.jobs.let_go(name, datetime.now(UTC), on_purpose=self._over.is_set())
            pause_s = 1.0 if self._desk.clock() - started > LONGEST_PAUSE_S else min(2.0 * pause_s, LONGEST_PAUSE_S)
            self._over.wait(pause_s)

    def wake(self) -> None:
        """Say that there is something to do."""
        with self._guard, suppress(OSError, ValueError):
            if self._process is not None and self._process.stdin is not None:
                self._process.stdin.write("\n")
                self._process.stdin.flush()

    def stop(self) -> None:
        """End the worker; what it was at is taken up when a service runs again."""
        self._over.set()
        with self._guard:
            process = self._process
        if process is None:
            return
        with suppress(OSError):
            process.kill()
        process.wait(PATIENCE_S)

    def _start(self, name: str) -> subprocess.Popen[str]:
        words = [sys.executable, "-m", "optimiser.service.worker", name]
        surroundings = {**os.environ, "OPTIMISER_STORE": self._url, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
        # in a session of its own, so that Ctrl-C in a terminal ends the service first and the worker with it
        return subprocess.Popen(words, stdin=subprocess.PIPE, text=True, env=surroundings, start_new_session=True)  # noqa: S603

    def _watch(self, process: subprocess.Popen[str]) -> None:
        """Wait for the end of a worker; meanwhile see that nothing is left lying about."""
        while not self._over.is_set():
            with suppress(subprocess.TimeoutExpired):
                process.wait(_SWEEP_S)
                break
            with suppress(OptimiserError, OSError):
                self._desk.store.uploads.sweep(datetime.now(UTC))
        if process.stdin is not None:
            with suppress(OSError):
                process.stdin.close()


@contextmanager
def kept_worker(desk: Desk, url: str) -> Iterator[Keeper]:
    """A worker for a desk, for as long as the context lasts."""
    keeper = Keeper(desk, url)
    thread = threading.Thread(target=keeper.run, daemon=True)
    thread.start()
    desk.wake = keeper.wake
    try:
        yield keeper
    finally:
        keeper.stop()
        thread.join(PATIENCE_S)
