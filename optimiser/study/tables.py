"""Reads the tables of a study sheet entry by entry and gathers every fault on the way."""

from collections.abc import Mapping, Sequence
from difflib import get_close_matches

from optimiser.errors import NOTHING, Fault


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
        """Note one fault."""
        said = NOTHING if found is None else repr(found)
        self.faults.append(Fault(self.name, key, said, expected, mend))

    def take(self, key: str) -> object:
        """The raw entry, None when absent."""
        self._seen.add(key)
        return self.entries.get(key)

    def number(self, key: str, default: float | None, low: float = float("-inf"), high: float = float("inf")) -> float:
        """A number within `low` and `high`."""
        raw = self.take(key)
        if raw is None and default is not None:
            return default
        if isinstance(raw, int | float) and _is_number(raw) and low <= raw <= high:
            return float(raw)
        self.fault(key, raw, _span(low, high), f"write a number, as in {key} = {_example(low, high, default)}")
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
            if _is_number(first) and _is_number(second) and first <= second:
                return float(first), float(second)
        self.fault(key, raw, "two rising numbers", f"write {key} = [low, high]")
        return default or (0.0, 1.0)

    def close(self) -> None:
        """Note every entry that nobody asked for."""
        for key in self.entries:
            if key not in self._seen:
                near = get_close_matches(key, self._seen, n=1)
                mend = f"did you mean {near[0]}?" if near else "leave it out"
                known = ", ".join(sorted(self._seen))
                self.fault(key, self.entries[key], f"only {known}", mend)


def _is_number(raw: object) -> bool:
    return isinstance(raw, int | float) and not isinstance(raw, bool) and abs(raw) < float("inf")


def _span(low: float, high: float) -> str:
    if high < float("inf"):
        return f"a number from {low:g} to {high:g}"
    return f"a number of at least {low:g}" if low > float("-inf") else "a number"


def _example(low: float, high: float, default: float | None) -> str:
    if default is not None:
        return f"{default:g}"
    return f"{low:g}" if low > float("-inf") else f"{min(high, 1.0):g}"
