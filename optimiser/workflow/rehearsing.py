"""A whole hunt on the rehearsal amp, through the same steps as a real one, on WAV files."""

from datetime import UTC, datetime
from typing import Final

TRIALS_A_DAY: Final = 8
"""Trials that a pretend day holds, so that a rehearsal shows the drift between days (no source)."""

MOST_TRIALS: Final = 100
_FIRST_MORNING: Final = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
_MINUTES: Final = 6
