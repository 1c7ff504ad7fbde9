"""How often somebody may guess a code or a session: ten times a minute from one address."""

import threading
from collections import OrderedDict
from math import ceil
from typing import Final

MOST_GUESSES: Final = 10
"""Wrong guesses from one address within the span (from memory of common practice)."""

SPAN_S: Final = 60.0
_MOST_ADDRESSES: Final = 10_000


class Guesses:
    """The wrong guesses of the last minute, by address."""

    def __init__(self) -> None:
        self._times: OrderedDict[str, list[float]] = OrderedDict()
        self._lock = threading.Lock()

    def wait_s(self, address: str, now_s: float) -> int | None:
        """Seconds that an address has to wait, None when it may guess."""
        with self._lock:
            recent = self._recent(address, now_s)
            return None if len(recent) < MOST_GUESSES else max(1, ceil(recent[0] + SPAN_S - now_s))

    def wrong(self, address: str, now_s: float) -> None:
        """Count a wrong guess; addresses that guessed longest ago are forgotten first."""
        with self._lock:
            self._times[address] = [*self._recent(address, now_s), now_s][-MOST_GUESSES:]
            self._times.move_to_end(address)
            while len(self._times) > _MOST_ADDRESSES:
                self._times.popitem(last=False)

    def _recent(self, address: str, now_s: float) -> list[float]:
        return [then for then in self._times.get(address, ()) if now_s - then < SPAN_S]
