"""`optimiser` in a terminal, also as `python -m optimiser`."""

import os
import sys
from typing import Final

_THREADS: Final = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def main() -> None:
    """Run the terminal and leave with its exit code.

    Matrices here have some dozens of rows: several threads would spend their time waiting for each other.
    """
    for variable in _THREADS:
        os.environ.setdefault(variable, "1")
    from optimiser.cli import run

    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
