"""A verified copy of a ledger before its tables are changed."""

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from optimiser.errors import OptimiserError
from optimiser.storage.folders import need_room
from optimiser.storage.snapshot import draft_beside, put_in_place, taken, verified

_MOST = 100
"""Copies of one schema that may lie beside a store (a choice, no source)."""


def keep_before_steps(beside: Path, version: str, size_bytes: int, write: Callable[[Path], None]) -> Path:
    """See that a whole copy of a ledger lies beside its store, named for its schema, and give its path.

    One that an upgrade left which did not come to its end, and that holds the same, is not made again.

    Args:
        beside: what the copy is named after, and lies beside.
        version: the schema that it still has.
        size_bytes: about how large it will be.
        write: writes the ledger, as it stands, into a fresh file.

    Raises:
        StorageError: the ledger is damaged, or there is no room; nothing was changed.
    """
    need_room(beside.parent, size_bytes, f"a copy of {beside.name} before its upgrade")
    names = [beside.with_name(f"{beside.name}.schema-{version}{'' if n == 1 else f'.{n}'}") for n in range(1, _MOST)]
    with draft_beside(names[0]) as draft:
        write(draft)
        holds = verified(draft, str(beside))
        for name in names:
            if not name.exists():
                put_in_place(draft, name, replace=False)
                return name
            with suppress(OptimiserError):
                if verified(name, str(name)) == holds:
                    return name
    raise taken(names[-1])
