"""Whether two recordings hold the same sound but for gain, polarity, silence around it, rounding and faint hiss."""

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from optimiser.scoring.recording import Samples, Sound

SAME_SHARE: Final = 0.002
"""Share by which each figure of copies may differ. Hiss at -80 dBFS on the built-in reel takes 0.001; recordings of
the rehearsal amp, at its cleanest and at drawn settings, differ from it by 0.2 or more in one figure (measured)."""


def imprint(sound: Sound) -> tuple[float, ...] | None:
    """Three figures of the loudest channel that hardly two sounds share; None for silence, or far above full scale.

    With sums over all samples x: (sum of squared steps) / (sum x^2), (sum x^4) / (sum x^2)^2 and
    (sum |x|)^2 / (sum x^2) in seconds. Gain, polarity and zeros before and after change none of them.
    """
    sums, last = np.zeros((4, sound.channels)), np.zeros((1, sound.channels))
    with np.errstate(all="ignore"):
        for block in sound.blocks():
            sums += _sums(np.concatenate([last, block]))
            last = block[-1:] if len(block) else last
        absolute, square, fourth, steps = sums[:, int(np.argmax(sums[1]))]
        figures = np.array([steps / square, fourth * sound.rate_hz / square**2, absolute**2 / square / sound.rate_hz])
    return tuple(figures.tolist()) if np.isfinite(figures).all() else None


def _sums(samples: Samples) -> Samples:
    """(4, channels) sums over all samples but the first, which only the first step needs."""
    own = samples[1:]
    power = own**2
    return np.stack([np.abs(own).sum(0), power.sum(0), (power**2).sum(0), (np.diff(samples, axis=0) ** 2).sum(0)])


def are_copies(one: Sequence[float], other: Sequence[float]) -> bool:
    """Whether two imprints are of the same sound."""
    return len(one) == len(other) and all(
        math.isclose(first, second, rel_tol=SAME_SHARE) for first, second in zip(one, other, strict=True)
    )
