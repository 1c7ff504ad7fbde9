"""`optimiser` in a terminal, also as `python -m optimiser`."""

import os
import sys
from typing import Final

_THREADS: Final = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")

_KEPT_BYTES: Final = 30_000_000
"""Blocks up to the largest one that was ever given back stay in the C library's hands (glibc's mallopt(3), on its
M_MMAP_THRESHOLD). Else the system fetches and clears each matrix of a long study anew, a sixth of the time of `next`
at 300 trials."""


def main() -> None:
    """Run the terminal and leave with its exit code.

    Matrices here have some dozens of rows: several threads would spend their time waiting for each other.
    """
    for variable in _THREADS:
        os.environ.setdefault(variable, "1")
    bytes(_KEPT_BYTES)
    from optimiser.cli import run

    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
