"""Exit codes: 0 done, 1 our bug, 2 bad use, 3 bad input, 4 not found, 5 storage, 6 busy, 130 interrupted."""

from typing import Final

from optimiser.errors import BadInput, BadUse, Busy, NotFound, OptimiserError, StorageError

BUG: Final = 1
BAD_USE: Final = 2
INTERRUPTED: Final = 130

EXITS: Final[dict[type[OptimiserError], int]] = {
    BadUse: BAD_USE,
    BadInput: 3,
    NotFound: 4,
    StorageError: 5,
    Busy: 6,
}


def exit_code(error: OptimiserError) -> int:
    """The code of an error: that of the nearest family it belongs to."""
    return next(EXITS[family] for family in type(error).__mro__ if family in EXITS)
