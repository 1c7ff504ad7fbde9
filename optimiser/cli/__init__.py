"""Steps of a hunt in a terminal.

Enters: words of a command line. Leaves: data on stdout, progress and warnings on stderr, an exit code. Does nothing
that the workflow does not do; it only reads words and prints views.
"""

from optimiser.cli.terminal import run

__all__ = ["run"]
