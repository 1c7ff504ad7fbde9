"""The figures of a pair as curves, for drawing."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.scoring.bands import band_mids_hz, decibels
from optimiser.scoring.figures import Traces
from optimiser.scoring.recording import Samples

MOST_COLUMNS: Final = 600
"""Instants of the map of differences, as many as a picture has room for."""

_QUANTILES: Final = 101
_MAP_RANGE_DB: Final = 60.0


@dataclass(frozen=True, eq=False)
class Curves:
    """What a picture of a pair shows; the capture is at the reference's level.

    Attributes:
        band_hz: (26,) middles of the third octaves.
        tone_db: (26,) capture over reference.
        reference_level_db: (101,) or (0,) quantiles of the reference's level, below its loudest instant.
        capture_level_db: (101,) the same quantiles of the capture, tone-matched.
        onset_s: (notes,) when notes start in the reference.
        attack_change_db: (notes,) by how much the capture's attack is stronger.
        time_s: (columns,) instants of the map.
        map_db: (26, columns) capture over reference; NaN where neither is heard.
    """

    band_hz: Samples
    tone_db: Samples
    reference_level_db: Samples
    capture_level_db: Samples
    onset_s: Samples
    attack_change_db: Samples
    time_s: Samples
    map_db: Samples


def curves_of(traces: Traces) -> Curves:
    """Draw the curves out of a pair's traces."""
    reference_db, capture_db = (level_db[traces.level_mask] for level_db in traces.levels_db)
    loudest_db = float(traces.levels_db[0].max())
    time_s, map_db = _map(traces)
    return Curves(
        band_mids_hz(),
        traces.tone_db,
        _quantiles(reference_db, loudest_db),
        _quantiles(capture_db, loudest_db),
        traces.notes.onset_s,
        traces.notes.change_db,
        time_s,
        map_db,
    )


def _quantiles(level_db: Samples, loudest_db: float) -> Samples:
    return np.quantile(level_db, np.linspace(0.0, 1.0, _QUANTILES)) - loudest_db if level_db.size else np.zeros(0)


def _map(traces: Traces) -> tuple[Samples, Samples]:
    long = traces.evidence.long
    each = -(-long.time_s.size // MOST_COLUMNS)
    starts = np.arange(0, long.time_s.size, each)
    counts = np.diff(starts, append=long.time_s.size)
    reference, capture = (
        np.add.reduceat(bands, starts, axis=0) / counts[:, None] for bands in (long.reference, long.capture)
    )
    floor = max(float(reference.max()), float(capture.max())) * 10.0 ** (-_MAP_RANGE_DB / 10.0)
    difference_db = decibels(capture + floor) - decibels(reference + floor)
    difference_db[np.maximum(reference, capture) < floor] = np.nan
    return np.add.reduceat(long.time_s, starts) / counts, difference_db.T
