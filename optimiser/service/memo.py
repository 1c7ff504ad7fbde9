"""Answers that take a while, kept until they are no longer true; one is worked out at a time."""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, TypeVar, cast

T = TypeVar("T")


class Memo:
    """The newest few answers by their key, which says all that they depend on.

    Who asks for what another is working out waits for it. One answer is worked out at a time, as figures are drawn by a
    library that keeps a state of its own.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._known: OrderedDict[Hashable, Any] = OrderedDict()
        self._turn = threading.Lock()

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """The answer of that key, made when it is not known."""
        with self._turn:
            if key not in self._known:
                self._known[key] = make()
                while len(self._known) > self._most:
                    self._known.popitem(last=False)
            self._known.move_to_end(key)
            return cast(T, self._known[key])
