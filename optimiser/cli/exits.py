"""Exit codes: 0 done, 1 our bug, 2 bad use, 3 bad input, 4 not found, 5 storage, 6 busy, 130 interrupted.

Those of errors stand in `optimiser.errors.OUTCOMES`, beside what the service answers.
"""

from typing import Final

from optimiser.errors import OUTCOMES, BadUse, OptimiserError, outcome_of

BUG: Final = 1
BAD_USE: Final = OUTCOMES[BadUse].exit_code
INTERRUPTED: Final = 130


def exit_code(error: OptimiserError) -> int:
    """The code of an error."""
    return outcome_of(error).exit_code
