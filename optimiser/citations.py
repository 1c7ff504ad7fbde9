"""References behind every number that judges a user's work, by the key used in docstrings, as in `[IEC61260]`."""

from typing import Final

CITATIONS: Final[dict[str, str]] = {
    "AIFF1989": "Apple (1989). Audio interchange file format, version 1.3.",
    "AIFFC1991": "Apple (1991). Audio interchange file format AIFF-C, version 1.0.",
    "Aitken1936": (
        "Aitken, A. C. (1936). On least squares and linear combination of observations. Proceedings of the Royal "
        "Society of Edinburgh 55, 42-48 (from memory)."
    ),
    "Ament2023": (
        "Ament, S., Daulton, S., Eriksson, D., Balandat, M., Bakshy, E. (2023). Unexpected improvements to "
        "expected improvement for Bayesian optimization. NeurIPS 36, arXiv 2310.20708."
    ),
    "Ament2024": (
        "Ament, S., Santorella, E., Eriksson, D., Letham, B., Balandat, M., Bakshy, E. (2024). Robust Gaussian "
        "processes via relevance pursuit. NeurIPS 37, arXiv 2410.24222."
    ),
    "Bardsley2014": (
        "Bardsley, J. M., Solonen, A., Haario, H., Laine, M. (2014). Randomize-then-optimize: a method for "
        "sampling from posterior distributions in nonlinear inverse problems. SIAM Journal on Scientific "
        "Computing 36(4), A1895-A1910."
    ),
    "Bonett2000": (
        "Bonett, D. G., Wright, T. A. (2000). Sample size requirements for estimating Pearson, Kendall and Spearman "
        "correlations. Psychometrika 65(1), 23-28."
    ),
    "BristowJohnson2021": "Bristow-Johnson, R. (2021). Audio EQ cookbook. W3C working group note.",
    "BS1116": ("ITU-R BS.1116-3 (2015). Methods for the subjective assessment of small impairments in audio systems."),
    "BS1534": (
        "ITU-R BS.1534-3 (2015). Method for the subjective assessment of intermediate quality level of audio systems."
    ),
    "BS1770": "ITU-R BS.1770-5 (2023). Algorithms to measure audio programme loudness and true-peak audio level.",
    "Carter1987": (
        "Carter, G. C. (1987). Coherence and time delay estimation. Proceedings of the IEEE 75(2), 236-255."
    ),
    "Clark1982": (
        "Clark, D. (1982). High-resolution subjective testing using a double-blind comparator. Journal of the Audio "
        "Engineering Society 30(5), 330-338."
    ),
    "Dawid1984": (
        "Dawid, A. P. (1984). Statistical theory: the prequential approach. Journal of the Royal Statistical "
        "Society A 147(2), 278-292."
    ),
    "Derringer1980": (
        "Derringer, G., Suich, R. (1980). Simultaneous optimization of several response variables. "
        "Journal of Quality Technology 12(4), 214-219."
    ),
    "Deshwal2022": (
        "Deshwal, A., Belakaria, S., Doppa, J. R., Kim, D. H. (2022). Bayesian optimization over permutation "
        "spaces. AAAI 36, arXiv 2112.01049."
    ),
    "Duvenaud2011": (
        "Duvenaud, D., Nickisch, H., Rasmussen, C. E. (2011). Additive Gaussian processes. NeurIPS 24, 226-234."
    ),
    "EBU3306": "EBU Tech 3306 (2009). MBWF / RF64: an extended file format for audio.",
    "EBU3341": "EBU Tech 3341 (2016). Loudness metering: EBU mode metering to supplement loudness normalisation.",
    "Farina2000": (
        "Farina, A. (2000). Simultaneous measurement of impulse response and distortion with a swept-sine technique. "
        "108th convention of the Audio Engineering Society, preprint 5093."
    ),
    "Frazier2009": (
        "Frazier, P., Powell, W., Dayanik, S. (2009). The knowledge-gradient policy for correlated normal "
        "beliefs. INFORMS Journal on Computing 21(4), 599-613."
    ),
    "Giri2010": (
        "Giri, F., Bai, E.-W. (eds.) (2010). Block-oriented nonlinear system identification. Springer, LNCIS 404."
    ),
    "Goda2021": (
        "Goda, T. (2021). A simple algorithm for global sensitivity analysis with Shapley effects. "
        "Reliability Engineering and System Safety 213, 107702."
    ),
    "Green1966": "Green, D. M., Swets, J. A. (1966). Signal detection theory and psychophysics. Wiley.",
    "Hautus1995": (
        "Hautus, M. J. (1995). Corrections for extreme proportions and their biasing effects on estimated values of "
        "d'. Behavior Research Methods, Instruments, and Computers 27(1), 46-51."
    ),
    "Held1962": (
        "Held, M., Karp, R. M. (1962). A dynamic programming approach to sequencing problems. Journal of the Society "
        "for Industrial and Applied Mathematics 10(1), 196-210."
    ),
    "Herbst2018": (
        "Herbst, J.-P. (2018). Heaviness and the electric guitar: considering the interaction between distortion and "
        "harmonic structures. Metal Music Studies 4(1), 95-113."
    ),
    "Herbst2019": (
        "Herbst, J.-P. (2019). Distortion and rock guitar harmony: the influence of distortion level and structural "
        "complexity on acoustic features and perceived pleasantness of guitar chords. Music Perception 36(4), 335-352."
    ),
    "Hoerl1970": (
        "Hoerl, A. E., Kennard, R. W. (1970). Ridge regression: biased estimation for nonorthogonal problems. "
        "Technometrics 12(1), 55-67."
    ),
    "Hvarfner2024": (
        "Hvarfner, C., Hellsten, E. O., Nardi, L. (2024). Vanilla Bayesian optimization performs great in high "
        "dimensions. ICML 41."
    ),
    "IEC61260": "IEC 61260-1 (2014). Electroacoustics: octave-band and fractional-octave-band filters. Base 10.",
    "IEC61672": "IEC 61672-1 (2013). Electroacoustics: sound level meters. A weighting.",
    "ISO16": "ISO 16 (1975). Acoustics: standard tuning frequency. The A above middle C is 440 Hz.",
    "Jaffe1983": (
        "Jaffe, D. A., Smith, J. O. (1983). Extensions of the Karplus-Strong plucked-string algorithm. "
        "Computer Music Journal 7(2), 56-69."
    ),
    "JiaoVert2015": (
        "Jiao, Y., Vert, J.-P. (2015). The Kendall and Mallows kernels for permutations. ICML 32, 1935-1944."
    ),
    "Jones1998": (
        "Jones, D. R., Schonlau, M., Welch, W. J. (1998). Efficient global optimization of expensive black-box "
        "functions. Journal of Global Optimization 13, 455-492."
    ),
    "Karplus1983": (
        "Karplus, K., Strong, A. (1983). Digital synthesis of plucked-string and drum timbres. "
        "Computer Music Journal 7(2), 43-55."
    ),
    "Kates2016": (
        "Kates, J. M., Arehart, K. H. (2016). The hearing-aid audio quality index (HAAQI). IEEE/ACM Transactions on "
        "Audio, Speech, and Language Processing 24(2), 354-365."
    ),
    "Kaufman1975": (
        "Kaufman, L. (1975). A variable projection method for solving separable nonlinear least squares problems. "
        "BIT Numerical Mathematics 15, 49-57."
    ),
    "Kinsler2000": (
        "Kinsler, L. E., Frey, A. R., Coppens, A. B., Sanders, J. V. (2000). Fundamentals of acoustics, 4th edition. "
        "Wiley."
    ),
    "Knapp1976": (
        "Knapp, C. H., Carter, G. C. (1976). The generalized correlation method for estimation of time delay. "
        "IEEE Transactions on Acoustics, Speech and Signal Processing 24(4), 320-327."
    ),
    "Lawson1974": "Lawson, C. L., Hanson, R. J. (1974). Solving least squares problems. Prentice-Hall.",
    "Lee2020": (
        "Lee, E. H., Perrone, V., Archambeau, C., Seeger, M. (2020). Cost-aware Bayesian optimization. arXiv "
        "2003.10870."
    ),
    "Lipshitz1992": (
        "Lipshitz, S. P., Wannamaker, R. A., Vanderkooy, J. (1992). Quantization and dither: a theoretical survey. "
        "Journal of the Audio Engineering Society 40(5), 355-375."
    ),
    "Ljung1999": "Ljung, L. (1999). System identification: theory for the user, 2nd edition. Prentice Hall.",
    "Marrel2009": (
        "Marrel, A., Iooss, B., Laurent, B., Roustant, O. (2009). Calculations of Sobol indices for the Gaussian "
        "process metamodel. Reliability Engineering and System Safety 94(3), 742-751."
    ),
    "McAdams1995": (
        "McAdams, S., Winsberg, S., Donnadieu, S., De Soete, G., Krimphoff, J. (1995). Perceptual scaling of "
        "synthesized musical timbres. Psychological Research 58, 177-192."
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
    "Platt1999": (
        "Platt, J. (1999). Probabilistic outputs for support vector machines and comparisons to regularized likelihood "
        "methods. In Smola, A. et al. (eds.), Advances in Large Margin Classifiers, MIT Press, 61-74 (from memory)."
    ),
    "Rasmussen2006": "Rasmussen, C. E., Williams, C. K. I. (2006). Gaussian processes for machine learning. MIT Press.",
    "RFC9639": (
        "van Beurden, M. Q. C., Weaver, A. (2024). RFC 9639: Free Lossless Audio Codec (FLAC). "
        "Internet Engineering Task Force."
    ),
    "RIFF1991": (
        "IBM, Microsoft (1991). Multimedia programming interface and data specifications 1.0, the waveform audio file "
        "format; extended by WAVE_FORMAT_EXTENSIBLE (Microsoft, 1998)."
    ),
    "Sacks1989": (
        "Sacks, J., Welch, W. J., Mitchell, T. J., Wynn, H. P. (1989). Design and analysis of computer "
        "experiments. Statistical Science 4(4), 409-423."
    ),
    "Stevens1955": (
        "Stevens, S. S. (1955). The measurement of loudness. Journal of the Acoustical Society of America 27(5), "
        "815-829."
    ),
    "Stone1974": (
        "Stone, M. (1974). Cross-validatory choice and assessment of statistical predictions. Journal of the Royal "
        "Statistical Society B 36(2), 111-147."
    ),
    "Swersky2013": "Swersky, K., Snoek, J., Adams, R. P. (2013). Multi-task Bayesian optimization. NeurIPS 26.",
    "Terhardt1979": "Terhardt, E. (1979). Calculating virtual pitch. Hearing Research 1(2), 155-182.",
    "Tighineanu2024": (
        "Tighineanu, P., Grossberger, L., Baireuther, P., Skubch, K., Falkner, S., Vinogradska, J., Berkenkamp, F. "
        "(2024). Scalable meta-learning with Gaussian processes. AISTATS 27, PMLR 238, 1981-1989, arXiv 2312.00742."
    ),
    "Tukey1958": (
        "Tukey, J. W. (1958). Bias and confidence in not quite large samples. Annals of Mathematical Statistics 29(2), "
        "614."
    ),
    "Steinmetz2020": (
        "Steinmetz, C. J., Reiss, J. D. (2020). auraloss: audio-focused loss functions in PyTorch. Digital Music "
        "Research Network workshop 15."
    ),
    "Wave2003": "Sony Pictures Digital (2003). Wave64 1.0: an extension of the waveform audio file format to 64 bits.",
    "WCAG22": (
        "W3C (2023). Web Content Accessibility Guidelines 2.2, success criteria 1.4.3 and 1.4.11, and the "
        "definition of relative luminance."
    ),
    "Wilson2024": (
        "Wilson, J. T. (2024). Stopping Bayesian optimization with probabilistic regret bounds. NeurIPS 37, arXiv "
        "2402.16811."
    ),
    "Wright2020": (
        "Wright, A., Välimäki, V. (2020). Perceptual loss function for neural modelling of audio systems. ICASSP 2020, "
        "251-255; arXiv 1911.08922."
    ),
    "Yamamoto2020": (
        "Yamamoto, R., Song, E., Kim, J.-M. (2020). Parallel WaveGAN: a fast waveform generation model based on "
        "generative adversarial networks with multi-resolution spectrogram. ICASSP 2020, 6199-6203; arXiv 1910.11480."
    ),
}
