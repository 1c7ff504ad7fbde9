"""References behind every number that judges a user's work, by the key used in docstrings, as in `[IEC61260]`."""

from typing import Final

CITATIONS: Final[dict[str, str]] = {
    "Derringer1980": (
        "Derringer, G., Suich, R. (1980). Simultaneous optimization of several response variables. "
        "Journal of Quality Technology 12(4), 214-219."
    ),
    "EBU3306": "EBU Tech 3306 (2009). MBWF / RF64: an extended file format for audio.",
    "MultimediaWave": (
        "IBM, Microsoft (1991). Multimedia programming interface and data specifications 1.0, the waveform audio file "
        "format; extended by WAVE_FORMAT_EXTENSIBLE (Microsoft, 1998)."
    ),
    "NIOSH1998": (
        "NIOSH (1998). Criteria for a recommended standard: occupational noise exposure. Publication 98-126. "
        "Recommended limit 85 dBA for 8 hours, 3 dB exchange rate."
    ),
}
