"""Reads the tables of a study sheet entry by entry and gathers every fault on the way."""

import sys
from collections.abc import Collection, Mapping, Sequence
from difflib import get_close_matches

from optimiser.errors import Fault, as_written


class Table:
    """One table of a sheet while it is read.

    Args:
        name: where it stands, as in `settings.gain`.
        entries: what stands in it.
        faults: the list to which faults are added.
    """

    def __init__(self, name: str, entries: object, faults: list[Fault]) -> None:
        self.name = name
        self.faults = faults
        self._seen: set[str] = set()
        if isinstance(entries, Mapping):
            self.entries: Mapping[str, object] = entries
        else:
            self.entries = {}
            self.fault("", entries, "a table", f"write it as [{name}] with entries below")

    def fault(self, key: str, found: object, expected: str, mend: str) -> None:
        """Note one fault, with the value that was found."""
        self.trouble(key, as_written(found), expected, mend)

    def trouble(self, key: str, found: str, expected: str, mend: str) -> None:
        """Note one fault, with what was found in words."""
        self.faults.append(Fault(self.name, key, found, expected, mend))

    def stranger(self, key: str, known: Collection[str], what: str) -> None:
        """Note an entry that means nothing here: what it is, and what may stand there."""
        near = get_close_matches(key, known, n=1)
        mend = f"did you mean {near[0]}?" if near else "leave it out"
        self.trouble(key, what, f"one of {', '.join(known)}" if known else "nothing, for there is none", mend)

    def take(self, key: str) -> object:
        """The raw entry, None when absent."""
        self._seen.add(key)
        return self.entries.get(key)

    def number(self, key: str, default: float | None, low: float = float("-inf"), high: float = float("inf")) -> float:
        """A number within `low` and `high`."""
        raw = self.take(key)
        if raw is None and default is not None:
            return default
        if isinstance(raw, int | float) and is_number(raw) and low <= raw <= high:
            return float(raw)
        finite = "a finite number" if isinstance(raw, float) and not is_number(raw) else _span(low, high)
        self.fault(key, raw, finite, f"write a number, as in {key} = {_example(low, high, default)}")
        return default if default is not None else 0.0

    def text(self, key: str, default: str | None = None) -> str:
        """A text."""
        raw = self.take(key)
        if raw is None and default is not None:
            return default
        if isinstance(raw, str) and raw.strip():
            return raw
        if raw == "" and default is not None:
            return ""
        self.fault(key, raw, "a text in quotes", f'write {key} = "..."')
        return default or ""

    def flag(self, key: str, *, default: bool) -> bool:
        """True or false."""
        raw = self.take(key)
        if raw is None:
            return default
        if isinstance(raw, bool):
            return raw
        self.fault(key, raw, "true or false", f"write {key} = {str(default).lower()}")
        return default

    def one_of(self, key: str, names: Sequence[str], default: str | None = None) -> str:
        """One of some words."""
        raw = self.take(key)
        if raw is None and default is not None:
            return default
        if isinstance(raw, str) and raw in names:
            return raw
        self.fault(key, raw, "one of " + ", ".join(f'"{name}"' for name in names), f'write {key} = "{names[0]}"')
        return default if default is not None else names[0]

    def pair(self, key: str, default: tuple[float, float] | None = None) -> tuple[float, float]:
        """Two rising numbers."""
        raw = self.take(key)
        if raw is None and default is not None:
            return default
        if isinstance(raw, Sequence) and not isinstance(raw, str) and len(raw) == 2:
            first, second = raw
            if is_number(first) and is_number(second) and first <= second:
                return float(first), float(second)
        low, high = default or (0.0, 1.0)
        self.fault(key, raw, "two rising numbers", f"write them as in {key} = [{low:g}, {high:g}]")
        return default or (0.0, 1.0)

    def close(self) -> None:
        """Note every entry that nobody asked for."""
        for key in self.entries:
            if key not in self._seen:
                self.stranger(key, sorted(self._seen), "an entry that means nothing here")


def is_number(raw: object) -> bool:
    """Whether it is a finite number that a float can hold."""
    return isinstance(raw, int | float) and not isinstance(raw, bool) and abs(raw) <= sys.float_info.max


def _span(low: float, high: float) -> str:
    if high < float("inf"):
        return f"a number from {low:g} to {high:g}"
    return f"a number of at least {low:g}" if low > float("-inf") else "a number"


def _example(low: float, high: float, default: float | None) -> str:
    if default is not None:
        return f"{default:g}"
    return f"{low:g}" if low > float("-inf") else f"{min(high, 1.0):g}"
