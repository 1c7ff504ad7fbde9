"""A pretend amp, cabinet, microphone and capture device to try a hunt on.

Enters: settings, dry sounds, seeds. Leaves: recordings of a reel through the chain and through the device's model of
it, and the device's reading. The sound is worked out, not looked up: nothing here knows of scores, and nothing that
proposes settings may know of this room. Knows nothing of files or the clock.
"""

from optimiser.rehearsal.amplifier import VOICINGS, Amplifier, Voicing
from optimiser.rehearsal.device_model import CaptureDevice
from optimiser.rehearsal.hands import NO_ERRORS, Errors
from optimiser.rehearsal.loudspeaker import Loudspeaker
from optimiser.rehearsal.microphone import Place, Room
from optimiser.rehearsal.rehearsal_amp import RehearsalAmp, RehearsalTake
from optimiser.rehearsal.riffs import LEARNING_RIFFS, RATE_HZ, VERIFY_RIFFS, play_riff
from optimiser.rehearsal.sheet import BEST_OVERALL, BEST_SETTINGS, FAVOURITE_SETTINGS, REHEARSAL_SHEET

__all__ = [
    "BEST_OVERALL",
    "BEST_SETTINGS",
    "FAVOURITE_SETTINGS",
    "LEARNING_RIFFS",
    "NO_ERRORS",
    "RATE_HZ",
    "REHEARSAL_SHEET",
    "VERIFY_RIFFS",
    "VOICINGS",
    "Amplifier",
    "CaptureDevice",
    "Errors",
    "Loudspeaker",
    "Place",
    "RehearsalAmp",
    "RehearsalTake",
    "Room",
    "Voicing",
    "play_riff",
]
