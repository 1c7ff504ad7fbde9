"""How much the gaps between partials are filled, inside narrow windows, so that a change of tone does not count."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.frames import LONG
from optimiser.scoring.recording import WORKING_RATE_HZ, Samples

WINDOW_EDGES_HZ: Final = (500.0, 1000.0, 1414.0, 2000.0, 2828.0)
"""Hz. An octave and three half octaves in which distortion fills the gaps between partials. Below lie the body of the
guitar and the bass of the loudspeaker, above lies its roll-off: there a shelf moves the figure most. Half octaves move
less than octaves, and from 1 kHz on they still hold a partial of most notes (ours, drawn from toy chains)."""

GAP_FLOOR_DB: Final = -35.0
"""dB below a window's mean, under which a gap counts as empty, so that faint hiss does not fill it (ours)."""

_TINY: Final = np.float32(1e-24)


def inside_octave_flatness_db(power: NDArray[np.float32]) -> Samples:
    """Geometric over arithmetic mean of power in each of four windows, averaged over them, (frames,).

    Args:
        power: (frames, 2049) of frames of 4096 samples at 48 kHz.

    Returns:
        dB: 0 for a flat spectrum, about -2.5 for noise, far below for a few clear partials.
    """
    edges = [round(edge * LONG.length / WORKING_RATE_HZ) for edge in WINDOW_EDGES_HZ]
    inside = power[:, edges[0] : edges[-1]] + _TINY
    starts = np.array(edges[:-1]) - edges[0]
    widths = np.diff(edges)
    mean = (np.add.reduceat(inside, starts, axis=1) / widths).astype(np.float32)
    floor = np.repeat(mean, widths, axis=1) * np.float32(10.0 ** (GAP_FLOOR_DB / 10.0))
    log_mean = np.add.reduceat(np.log(inside + floor), starts, axis=1) / widths
    return np.asarray(10.0 / np.log(10.0) * np.mean(log_mean - np.log(mean), axis=1), dtype=np.float64)
