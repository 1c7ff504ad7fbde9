"""References behind every number that judges a user's work, by the key used in docstrings, as in `[IEC61260]`."""

from typing import Final

CITATIONS: Final[dict[str, str]] = {
    "Derringer1980": (
        "Derringer, G., Suich, R. (1980). Simultaneous optimization of several response variables. "
        "Journal of Quality Technology 12(4), 214-219."
    ),
    "EBU3306": "EBU Tech 3306 (2009). MBWF / RF64: an extended file format for audio.",
    "Goda2021": (
        "Goda, T. (2021). A simple algorithm for global sensitivity analysis with Shapley effects. "
        "Reliability Engineering and System Safety 213, 107702."
    ),
    "Marrel2009": (
        "Marrel, A., Iooss, B., Laurent, B., Roustant, O. (2009). Calculations of Sobol indices for the Gaussian "
        "process metamodel. Reliability Engineering and System Safety 94(3), 742-751."
    ),
    "MultimediaWave": (
        "IBM, Microsoft (1991). Multimedia programming interface and data specifications 1.0, the waveform audio file "
        "format; extended by WAVE_FORMAT_EXTENSIBLE (Microsoft, 1998)."
    ),
    "NIOSH1998": (
        "NIOSH (1998). Criteria for a recommended standard: occupational noise exposure. Publication 98-126. "
        "Recommended limit 85 dBA for 8 hours, 3 dB exchange rate."
    ),
    "Okabe2008": (
        "Okabe, M., Ito, K. (2008). Color universal design: how to make figures and presentations that are friendly to "
        "colorblind people."
    ),
    "Owen2014": (
        "Owen, A. B. (2014). Sobol' indices and Shapley value. "
        "SIAM/ASA Journal on Uncertainty Quantification 2(1), 245-251."
    ),
    "WCAG22": (
        "W3C (2023). Web Content Accessibility Guidelines 2.2, success criteria 1.4.3 and 1.4.11, and the "
        "definition of relative luminance."
    ),
}
