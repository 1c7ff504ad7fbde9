"""Cross spectra of a pair, the fine alignment that they give, and how much of the capture no filter explains."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.frames import LONG, TimeMap
from optimiser.scoring.recording import WORKING_RATE_HZ, Samples
from optimiser.scoring.weighting import a_power

DRIFT_REACH_S: Final = 0.0003
"""Seconds by which the first estimate's line may be wrong from end to end, between three and four of its samples."""

DRIFT_STEPS: Final = 24
"""Drifts that are compared to either side of the first estimate; the peak is interpolated."""

LEAST_GAIN: Final = 1e-4
"""Share of coherence that a drift must gain over none to be believed (measured on toy amps)."""

SEARCH_LIMIT_HZ: Final = 6000.0
"""Hz. Above it a guitar loudspeaker gives little to align by (common practice, no source)."""

DELAY_REACH_S: Final = 0.002
"""Seconds around the first estimate in which the waveforms are lined up, shorter than a period of any string."""

_TINY: Final = 1e-30

Cross = NDArray[np.complex128]
Sums = tuple[Samples, Samples, Cross]
"""Reference power, capture power and cross spectrum, (bins,) each."""


@dataclass(frozen=True, eq=False)
class CrossSpectra:
    """Power and cross spectra of a pair, summed over blocks of frames.

    Attributes:
        reference: (blocks, bins) power.
        capture: (blocks, bins) power.
        cross: (blocks, bins) conjugate reference times capture.
        middle_s: (blocks,) time of each block in the reference.
    """

    reference: Samples
    capture: Samples
    cross: Cross
    middle_s: Samples

    def turned(self, delay_s: float, drift: float) -> "CrossSpectra":
        """The same with the capture moved earlier by a delay and a further drift."""
        lag_s = delay_s + drift * self.middle_s
        cross = self.cross * np.exp(2j * np.pi * lag_s[:, None] * frequencies_hz())
        return CrossSpectra(self.reference, self.capture, cross, self.middle_s)

    def summed(self) -> Sums:
        """Reference power, capture power and cross spectrum of all blocks, (bins,) each."""
        return self.reference.sum(axis=0), self.capture.sum(axis=0), self.cross.sum(axis=0)

    def less(self, total: Sums, omitted: NDArray[np.bool_]) -> Sums:
        """What is left of the sums when some blocks are taken out.

        Args:
            total: sums over all blocks.
            omitted: (blocks,) which to take out.
        """
        reference, capture, cross = total
        return (
            reference - self.reference[omitted].sum(axis=0),
            capture - self.capture[omitted].sum(axis=0),
            cross - self.cross[omitted].sum(axis=0),
        )


def frequencies_hz() -> Samples:
    """Frequency of every bin of a cross spectrum, (2049,)."""
    return LONG.frequencies_hz(WORKING_RATE_HZ)


def incoherent_share(reference: Samples, capture: Samples, cross: Cross) -> float:
    """Share of the capture's A-weighted energy that no linear filter makes from the reference [Carter1987].

    1 - |Src|^2 / (Srr Scc) in every bin, weighted by the capture's A-weighted power.

    Args:
        reference: (bins,) power summed over many frames.
        capture: (bins,) the same.
        cross: (bins,) cross spectrum summed over the same frames.
    """
    weight = a_power(frequencies_hz())
    explained = np.abs(cross) ** 2 / np.maximum(reference, _TINY)
    total = float(np.sum(weight * capture))
    return float(np.clip(1.0 - np.sum(weight * explained) / max(total, _TINY), 0.0, 1.0))


def error_to_signal(reference: Samples, capture: Samples, cross: Cross, *, weighted: bool = True) -> float:
    """Energy of the difference over that of the reference, at the best gain [Wright2020].

    Args:
        reference: (bins,) power summed over many frames.
        capture: (bins,) the same.
        cross: (bins,) cross spectrum summed over the same frames.
        weighted: by the A curve.
    """
    weight = a_power(frequencies_hz()) if weighted else np.ones(LONG.bins)
    ref, cap, both = (float(np.sum(weight * part)) for part in (reference, capture, cross.real))
    return max(0.0, 1.0 - both**2 / max(ref * cap, _TINY))


def refine(spectra: CrossSpectra, first: TimeMap) -> tuple[TimeMap, CrossSpectra]:
    """The drift with the highest A-weighted coherence, no drift included, then the delay that lines up the waveforms.

    Args:
        spectra: taken along `first`.
        first: the first estimate.

    Returns:
        The refined map, and the cross spectra as they are along it.
    """
    drift = _best_drift(spectra, first.drift)
    steady = spectra.turned(0.0, drift - first.drift)
    delay_s = _remaining_delay_s(steady.summed()[2])
    delay_samples = first.delay_samples + delay_s * WORKING_RATE_HZ
    return TimeMap(delay_samples, drift), steady.turned(delay_s, 0.0)


def _best_drift(spectra: CrossSpectra, first: float) -> float:
    bins = frequencies_hz() <= SEARCH_LIMIT_HZ
    hertz = frequencies_hz()[bins]
    weight = a_power(hertz) / np.maximum(spectra.reference.sum(axis=0)[bins], _TINY)
    cross = spectra.cross[:, bins].astype(np.complex64)

    def turn(drift: float) -> NDArray[np.complex64]:
        return np.asarray(np.exp(2j * np.pi * drift * spectra.middle_s[:, None] * hertz), dtype=np.complex64)

    def coherent(turned: NDArray[np.complex64]) -> float:
        return float(np.sum(weight * np.abs(turned.sum(axis=0)) ** 2))

    span_s = float(np.ptp(spectra.middle_s))
    grain = DRIFT_REACH_S / max(span_s, 1.0) / DRIFT_STEPS
    turned, further = cross * turn(-DRIFT_STEPS * grain), turn(grain)
    heights = np.empty(2 * DRIFT_STEPS + 1)
    for step in range(heights.size):
        heights[step] = coherent(turned)
        turned *= further
    peak = int(np.argmax(heights))
    best = first + (peak - DRIFT_STEPS + _vertex(heights, peak)) * grain
    return best if coherent(cross * turn(best - first)) > coherent(cross * turn(-first)) * (1 + LEAST_GAIN) else 0.0


def _remaining_delay_s(cross: Cross) -> float:
    """Lag of the strongest peak of the A-weighted correlation, to a small part of a sample."""
    oversampling = 8
    size = LONG.length * oversampling
    correlation = np.abs(np.fft.irfft(cross * a_power(frequencies_hz()), size))
    reach = round(DELAY_REACH_S * WORKING_RATE_HZ * oversampling)
    correlation[reach:-reach] = 0.0
    peak = int(np.argmax(correlation))
    lag = peak if peak < size // 2 else peak - size
    return (lag + _vertex(correlation, peak)) / (WORKING_RATE_HZ * oversampling)


def _vertex(heights: Samples, peak: int) -> float:
    """Where the parabola through a peak and its neighbours has its top, -0.5 to 0.5 steps from the peak."""
    before, top, after = (float(heights[(peak + offset) % heights.size]) for offset in (-1, 0, 1))
    bend = before - 2 * top + after
    return 0.0 if bend >= 0 else float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))
