"""The reel's dyad in a recording whose layout is not known."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

import numpy as np

from optimiser.scoring.articulation import DYAD_HZ
from optimiser.scoring.passages import Located
from optimiser.scoring.recording import WORKING_RATE_HZ, Passage, ReelLayout, Samples
from optimiser.scoring.track import Track

STEADY_DB: Final = 0.7
"""dB within which the level of a dyad stays; no string holds it so long (measured on toy amps)."""

LEAST_S: Final = 1.0
"""Seconds of steady sound, one of which is analysed."""

EDGE_S: Final = 0.12
"""Seconds before and after the steady stretch that its ends may reach: a frame and the step of the search."""

HIGHEST_ORDER: Final = 15
"""Order up to which products of the two notes are summed (ours)."""

LEAST_SHARE: Final = 0.9
"""Share of the energy from 40 to 3000 Hz that harmonics and products must hold; other sound lies between them too."""

LEAST_NOTE: Final = 0.02
"""Share of it that each of the two notes must hold (measured on toy amps)."""

_SHORTEST_S: Final = 0.1
_RANGE_HZ: Final = (40, 3000)
_GRID: Final = 4


def with_dyads(located: Located, dyads: Iterable[Passage]) -> Located:
    """A found layout with dyads cut out of the passages that they lie in.

    Args:
        located: passages that were found.
        dyads: in seconds of the reference.
    """
    passages = list(located.layout.passages)
    for dyad in dyads:
        cut = replace(dyad, start_s=max(0.0, dyad.start_s - located.start_s), end_s=dyad.end_s - located.start_s)
        passages = [part for passage in passages for part in _around(passage, cut)] + [cut]
    return replace(located, layout=ReelLayout(tuple(sorted(passages, key=lambda passage: passage.start_s))))


def _around(passage: Passage, cut: Passage) -> list[Passage]:
    ends = ((passage.start_s, min(passage.end_s, cut.start_s)), (max(passage.start_s, cut.end_s), passage.end_s))
    return [replace(passage, start_s=first, end_s=last) for first, last in ends if last - first > _SHORTEST_S]


def find_dyads(track: Track, level_db: Samples, time_s: Samples) -> tuple[Passage, ...]:
    """All stretches of a second or more that are steady and hold nothing but products of the dyad's two notes.

    Args:
        track: the reference.
        level_db: (frames,) its level, evenly spaced.
        time_s: (frames,) middle of each frame.
    """
    step_s = float(time_s[1] - time_s[0])
    span = round(LEAST_S / step_s)
    if level_db.size <= span:
        return ()
    windows = np.lib.stride_tricks.sliding_window_view(level_db, span)[::_GRID]
    steady = np.flatnonzero((np.ptp(windows, axis=1) < STEADY_DB) & (windows[:, 0] > level_db.max() - 40.0))
    dyads: list[Passage] = []
    for run in np.split(steady, np.flatnonzero(np.diff(steady) > 1) + 1) if steady.size else ():
        start_s = float(time_s[run[0] * _GRID])
        end_s = float(time_s[min(time_s.size - 1, run[-1] * _GRID + span)])
        if _is_dyad(track, (start_s + end_s) / 2):
            dyads.append(Passage("dyad", "dyad", max(0.0, start_s - EDGE_S), end_s + EDGE_S))
    return tuple(dyads)


def _is_dyad(track: Track, middle_s: float) -> bool:
    first = round((middle_s - 0.5) * WORKING_RATE_HZ)
    if first < 0 or first + WORKING_RATE_HZ > track.size:
        return False
    second = track.piece(first, first + WORKING_RATE_HZ).astype(np.float64) * np.hanning(WORKING_RATE_HZ)
    low, high = _RANGE_HZ
    power = np.abs(np.fft.rfft(second)[: high + 2]) ** 2
    low_hz, high_hz = (int(hertz) for hertz in DYAD_HZ)
    orders = range(-HIGHEST_ORDER, HIGHEST_ORDER + 1)
    products = {
        abs(one * low_hz + other * high_hz)
        for one in orders
        for other in orders
        if abs(one) + abs(other) <= HIGHEST_ORDER
    }
    lines = sorted(hertz for hertz in products if low < hertz < high)
    near = np.unique(np.concatenate([np.array(lines) + offset for offset in (-1, 0, 1)]))
    total = power[low : high + 1].sum()
    notes = min(power[hertz - 1 : hertz + 2].sum() for hertz in (low_hz, high_hz))
    return bool(power[near].sum() >= LEAST_SHARE * total and notes >= LEAST_NOTE * total)
