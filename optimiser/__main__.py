"""`optimiser` in a terminal, also as `python -m optimiser`."""

import sys


def main() -> None:
    """Run the terminal and leave with its exit code."""
    from optimiser.cli import run

    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
