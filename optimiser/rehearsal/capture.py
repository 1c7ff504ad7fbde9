"""How the pretend capture device learns: riff after riff, in the order in which they are sent.

On each riff mixing and curve take Gauss-Newton steps with the long filter projected out of the problem
[Kaufman1975]; what earlier riffs taught counts less with every riff that follows [Ljung1999].
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimiser.rehearsal.device_model import Array, CaptureDevice, CaptureModel, bend, bend_slopes, front

Spectrum = NDArray[np.complex128]

_TINY = 1e-12


@dataclass(frozen=True)
class _Memory:
    """What earlier riffs taught: correlations for the long filter, information on mixing and curve."""

    own: Array
    cross: Array
    information: Array

    def faded(self, share: float) -> "_Memory":
        return _Memory(self.own * share, self.cross * share, self.information * share)


@dataclass(frozen=True)
class _Fit:
    """A riff fitted with one theta: the long filter that goes with it, what is missed, and the correlations."""

    theta: Array
    taps: Array
    source: Spectrum
    missed: Spectrum
    own: Array
    cross: Array
    cost: float


class _Riff:
    """One riff of the learning reel, dry and recorded, ready to be fitted."""

    def __init__(self, di: Array, recorded: Array, device: CaptureDevice) -> None:
        from scipy.fft import next_fast_len

        self.device = device
        self.size = next_fast_len(len(di) + device.n_taps, real=True)
        emphasis = np.abs(1.0 - device.emphasis * np.exp(-2j * np.pi * np.fft.rfftfreq(self.size)))
        self.weight = emphasis * np.sqrt(2.0 / self.size)
        self.parts = front(di, device)
        self.target = self.spectrum(recorded)

    def spectrum(self, samples: Array) -> Spectrum:
        """Spectra with emphasis, scaled so that their inner products are those of the samples."""
        from scipy.fft import rfft

        return np.asarray(rfft(samples, self.size, axis=-1) * self.weight, dtype=np.complex128)

    def lags(self, first: Spectrum, second: Spectrum) -> Array:
        """(..., n_taps) correlations of `second` with `first` at lags from 0 up."""
        from scipy.fft import irfft

        every = irfft(np.conj(first) * second, self.size, axis=-1)
        return np.asarray(every[..., : self.device.n_taps] * (self.size / 2.0), dtype=np.float64)

    def filtered(self, taps: Array, spectrum: Spectrum) -> Spectrum:
        """Spectra behind long filters."""
        from scipy.fft import rfft

        return np.asarray(rfft(taps, self.size, axis=-1) * spectrum, dtype=np.complex128)

    def missed(self, theta: Array, taps: Array) -> Spectrum:
        """What a finished model misses of the recording."""
        return self.target - self.filtered(taps, self.spectrum(bend(self.parts, theta)))


def learn(learning: Sequence[tuple[Array, Array]], device: CaptureDevice) -> CaptureModel:
    """Go through the riffs in the order given, and keep what is known at the end.

    Args:
        learning: dry and recorded samples of each riff, (n,) each, n free to differ from riff to riff; at least one.
        device: what the device can do.
    """
    riffs = [_Riff(di, recorded, device) for di, recorded in learning]
    theta = device.start
    memory = _Memory(np.zeros(device.n_taps), np.zeros(device.n_taps), np.zeros((len(theta), len(theta))))
    taps = np.zeros(device.n_taps)
    for place, riff in enumerate(riffs):
        stride = device.stride * device.tiring**place
        fit, memory = _study_riff(riff, theta, memory.faded(device.forgetting), stride)
        theta, taps = fit.theta, fit.taps
    missed = sum(_power(riff.missed(theta, taps)) for riff in riffs)
    recorded = sum(_power(riff.target) for riff in riffs)
    return CaptureModel(device, theta, taps, float(np.sqrt(missed / max(recorded, _TINY))))


def _study_riff(riff: _Riff, theta: Array, memory: _Memory, stride: float) -> tuple[_Fit, _Memory]:
    """Steps on one riff; one that makes it worse is taken back and tried again at a quarter of its size."""
    best = _fit(riff, theta, theta, memory)
    information, pull = _linearise(riff, best)
    share = 1.0
    for round_left in reversed(range(riff.device.n_rounds)):
        total = memory.information + information
        damped = total + np.diag(riff.device.damping * np.diag(total) + _TINY)
        step = np.linalg.solve(damped, pull - memory.information @ (best.theta - theta))
        longest = stride * float(np.linalg.norm(best.theta))
        step *= share * min(1.0, longest / max(float(np.linalg.norm(step)), _TINY))
        tried = _fit(riff, best.theta + step, theta, memory)
        if tried.cost >= best.cost:
            share /= 4.0
            continue
        best, share = tried, 1.0
        if round_left:
            information, pull = _linearise(riff, best)
    return best, _Memory(best.own, best.cross, memory.information + information)


def _fit(riff: _Riff, theta: Array, before: Array, memory: _Memory) -> _Fit:
    source = riff.spectrum(bend(riff.parts, theta))
    own = memory.own + riff.lags(source, source)
    cross = memory.cross + riff.lags(source, riff.target)
    taps = _solve_taps(own, cross, riff.device.ridge)
    missed = riff.target - riff.filtered(taps, source)
    strayed = theta - before
    cost = _power(missed) + float(strayed @ memory.information @ strayed)
    return _Fit(theta, taps, source, missed, own, cross, cost)


def _linearise(riff: _Riff, fit: _Fit) -> tuple[Array, Array]:
    """(p, p) information that the riff gives on theta and (p,) its pull, with the long filter projected out."""
    moved = riff.filtered(fit.taps, riff.spectrum(bend_slopes(riff.parts, fit.theta)))
    absorbed = _solve_taps(fit.own, riff.lags(fit.source, moved).T, riff.device.ridge).T
    moved = moved - riff.filtered(absorbed, fit.source)
    information = (np.conj(moved) @ moved.T).real
    return np.asarray(information, dtype=np.float64), np.asarray((np.conj(moved) @ fit.missed).real, dtype=np.float64)


def _solve_taps(own: Array, cross: Array, ridge: float) -> Array:
    """(n_taps, ...) filters that solve the Toeplitz normal equations."""
    from scipy.linalg import solve_toeplitz

    ridged = own.copy()
    ridged[0] += ridge * own[0] + _TINY
    return np.asarray(solve_toeplitz(ridged, cross), dtype=np.float64)


def _power(spectrum: Spectrum) -> float:
    return float(np.vdot(spectrum, spectrum).real)
