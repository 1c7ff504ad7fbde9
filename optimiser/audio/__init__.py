"""Files and sound: WAV, AIFF and FLAC in, WAV out, and the reels that are played.

Enters: paths, bytes, dry clips. Leaves: arrays with their rate, sound in blocks, files on disk, reels with their
layout. Knows nothing of studies, trials or scores; what a recording is and where a reel's passages lie comes from
`scoring`.
"""

from optimiser.audio.header import BITS, AudioHeader, SoundForm
from optimiser.audio.opening import Source
from optimiser.audio.reader import (
    MAX_DURATION_S,
    MAX_FILE_BYTES,
    read_recording,
)
from optimiser.audio.reel_layout import (
    GAP_S,
    REST_S,
    SILENCE_S,
    USEFUL_S,
    ReelKind,
    layout_of,
    length_remarks,
)
from optimiser.audio.reel_sounds import CHORD_S, DYAD_S, MARKER_S
from optimiser.audio.reels import SOFT_DB, Reel, build_reel
from optimiser.audio.stored_sound import StoredSound, open_recording
from optimiser.audio.writer import Subtype, wav_bytes, write_wav

__all__ = [
    "BITS",
    "CHORD_S",
    "DYAD_S",
    "GAP_S",
    "MARKER_S",
    "MAX_DURATION_S",
    "MAX_FILE_BYTES",
    "REST_S",
    "SILENCE_S",
    "SOFT_DB",
    "USEFUL_S",
    "AudioHeader",
    "Reel",
    "ReelKind",
    "SoundForm",
    "Source",
    "StoredSound",
    "Subtype",
    "build_reel",
    "layout_of",
    "length_remarks",
    "open_recording",
    "read_recording",
    "wav_bytes",
    "write_wav",
]
