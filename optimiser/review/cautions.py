"""What to mind beside a loud valve amplifier, in short sentences for screens, reports and recall sheets."""

from typing import Final

from optimiser.errors import BadUse
from optimiser.units import DAY_MINUTES, LEVEL_SCALE_DBA, NIOSH_LIMIT_DBA, exposure_minutes, show_minutes

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


_SECOND: Final = 1.0 / 60.0
"""Minutes."""


def exposure_sentence(level_dba: float) -> str:
    """How long a day one may stay at `level_dba` by the recommended limit [NIOSH1998].

    Raises:
        BadUse: no level that a room can have.
    """
    least, most = LEVEL_SCALE_DBA
    if not least <= level_dba <= most:
        raise BadUse(
            f"No room has a level of {level_dba:g} dBA.",
            f"Give what a meter reads where you sit, {least:g} (hardly heard) to {most:g} (never to be passed, NIOSH "
            "98-126), as in --spl 94.",
        )
    minutes = exposure_minutes(level_dba)
    allowed = "under 1 s" if minutes < _SECOND else show_minutes(minutes)
    limit = "is not reached in a day" if minutes >= DAY_MINUTES else f"is {allowed} a day"
    return (
        f"At {level_dba:g} dBA the recommended limit {limit} (NIOSH 98-126: {NIOSH_LIMIT_DBA:g} dBA for "
        f"{show_minutes(exposure_minutes(NIOSH_LIMIT_DBA))}, halved every 3 dB). Local codes come first."
    )
