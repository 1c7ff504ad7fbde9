"""Letting a device in: a code that works once and soon, exchanged for a session that lasts."""

import hashlib
import secrets
import threading
import time
from collections.abc import Callable
from datetime import timedelta
from typing import Final

CODE_S: Final = 600.0
"""Seconds for which a code can be used (a choice, no source)."""

SESSION_DAYS: Final = 90
"""Days after which a device is paired anew (a choice, no source)."""

SESSION_TIME: Final = timedelta(days=SESSION_DAYS)

_CODE_BYTES: Final = 16
_SESSION_BYTES: Final = 32
_MOST_CODES: Final = 8


def new_session_secret() -> str:
    """A secret of 256 bits."""
    return secrets.token_urlsafe(_SESSION_BYTES)


class Pairing:
    """The codes that can still be used; only their sums are kept.

    Attributes:
        on_used: called when a code was used, so that whoever shows one can show the next.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._ends: dict[str, float] = {}
        self._lock = threading.Lock()
        self.on_used: Callable[[], None] = _nothing

    def new_code(self) -> str:
        """A code of 128 bits."""
        code = secrets.token_urlsafe(_CODE_BYTES)
        with self._lock:
            self._drop_old()
            for oldest in sorted(self._ends, key=lambda known: self._ends[known])[: -_MOST_CODES + 1 or None]:
                del self._ends[oldest]
            self._ends[_sum(code)] = self._clock() + CODE_S
        return code

    def use(self, code: str) -> bool:
        """Whether a code lets somebody in; it does so once."""
        with self._lock:
            self._drop_old()
            used = self._ends.pop(_sum(code), None) is not None
        if used:
            self.on_used()
        return used

    def _drop_old(self) -> None:
        now_s = self._clock()
        self._ends = {known: end for known, end in self._ends.items() if end > now_s}


def _sum(code: str) -> str:
    return hashlib.sha256(code.encode("utf-8", "surrogatepass")).hexdigest()


def _nothing() -> None:
    """Nobody shows codes."""
