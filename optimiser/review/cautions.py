"""What to mind beside a loud valve amplifier, in short sentences for screens, reports and recall sheets."""

from typing import Final

from optimiser.units import NIOSH_LIMIT_DBA, exposure_minutes, show_minutes

LOAD_CAUTION: Final = (
    "Never run a valve amplifier without its load: connect a speaker or load of the right impedance before power."
)

RIBBON_CAUTION: Final = (
    "Switch phantom power off for a ribbon microphone unless its maker allows it, and before patching."
)

HEARING_CAUTION: Final = (
    f"Hearing: {NIOSH_LIMIT_DBA:g} dBA for {show_minutes(exposure_minutes(NIOSH_LIMIT_DBA))} a day, "
    "half the time for every 3 dB more. Monitor from another room, or wear protection."
)

CAUTIONS: Final[tuple[str, ...]] = (
    "Local codes, the makers' instructions and licensed practice come before anything said here.",
    "Valve amplifiers hold several hundred volts, for a while even unplugged. Leave an open chassis to a qualified "
    "technician.",
    LOAD_CAUTION,
    "Match speaker and amplifier: the speakers together must take more power than the amplifier can give.",
    RIBBON_CAUTION,
    HEARING_CAUTION,
)
"""Common practice of the trade (no source), but for the recommended exposure limit [NIOSH1998]."""


def exposure_sentence(level_dba: float) -> str:
    """How long a day one may stay at `level_dba` by the recommended limit [NIOSH1998]."""
    allowed = show_minutes(exposure_minutes(level_dba))
    return f"At {level_dba:g} dBA the recommended limit is {allowed} a day; local codes may be stricter."
