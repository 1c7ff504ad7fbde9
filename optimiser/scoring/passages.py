"""Where the passages of a reel lie in a recording of it."""

from dataclasses import dataclass
from itertools import count, pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.recording import Passage, PassageKind, ReelLayout, Samples

LEVEL_RANGE_DB: Final = 60.0
"""dB below the loudest frame that are told apart when a layout is laid over a recording (measured on toy amps)."""

LEAST_LIKENESS: Final = 0.4
"""Correlation of level and layout below which the recording is not one of this reel (measured on toy amps)."""

SETTLING_S: Final = 0.1
"""Seconds after the last sound in which an amplifier still dies away (common practice, no source)."""

EDGE_S: Final = 0.03
"""Seconds that a passage is kept clear of its neighbour: a frame and the error of the search."""

SHORTEST_REST_S: Final = 0.25
"""Seconds of quiet that count as a rest in a recording whose layout is not known (common practice, no source)."""

SOUNDING_RANGE_DB: Final = 45.0
"""dB below the loudest frame, above which something sounds (measured on toy amps)."""

ABOVE_FLOOR_DB: Final = 8.0
"""dB above the quietest frames, above which something sounds (measured on toy amps)."""

QUIET_QUANTILE: Final = 0.02
"""Share of frames that are quieter than the floor of a recording (measured on toy amps)."""

_FOUND_NAMES: Final = {"riff": "passage", "rest": "rest"}
_TESTS: Final[tuple[PassageKind, ...]] = ("marker", "dyad", "sweep")
_QUIET: Final[tuple[PassageKind, ...]] = ("silence", "rest")


@dataclass(frozen=True)
class Located:
    """A layout with the instant at which it starts in the reference.

    Attributes:
        layout: of the reel.
        start_s: seconds in the reference at which the reel starts; negative when its start was cut off.
        known: whether it is the reel's own layout, and not one that was found from the sound.
    """

    layout: ReelLayout
    start_s: float
    known: bool = True

    def played(self, time_s: Samples) -> NDArray[np.bool_]:
        """Which instants hold no test sound: nobody listens to a marker, a dyad of sines or a sweep."""
        test = np.zeros(time_s.shape, dtype=bool)
        for passage in self.layout.of_kind(*_TESTS):
            first_s, last_s = self.start_s + passage.start_s, self.start_s + passage.end_s
            test |= (time_s >= first_s - EDGE_S) & (time_s <= last_s + SETTLING_S)
        return ~test

    def within(self, time_s: Samples, *kinds: PassageKind) -> NDArray[np.bool_]:
        """Which instants lie well inside passages of these kinds."""
        inside = np.zeros(time_s.shape, dtype=bool)
        for passage in self.layout.of_kind(*kinds):
            settling_s = SETTLING_S if passage.kind in _QUIET else EDGE_S
            first_s, last_s = self.start_s + passage.start_s, self.start_s + passage.end_s
            inside |= (time_s >= first_s + settling_s) & (time_s <= last_s - EDGE_S)
        return inside


def quietest(level_db: Samples) -> NDArray[np.bool_]:
    """The quietest frames, in which noise is most of what is heard, (frames,)."""
    return np.asarray(level_db <= np.quantile(level_db, QUIET_QUANTILE))


def find_passages(level_db: Samples, time_s: Samples) -> Located:
    """A layout for a recording of which none is known: what sounds, and the rests of a quarter of a second or more.

    Args:
        level_db: (frames,) of the reference, evenly spaced.
        time_s: (frames,) middle of each frame in the reference.
    """
    step_s = float(time_s[1] - time_s[0])
    floor_db = float(np.quantile(level_db, QUIET_QUANTILE))
    threshold_db = max(float(level_db.max()) - SOUNDING_RANGE_DB, floor_db + ABOVE_FLOOR_DB)
    sounding = level_db > min(threshold_db, float(level_db.max()) - ABOVE_FLOOR_DB)
    edges = np.flatnonzero(np.diff(sounding, prepend=~sounding[:1], append=~sounding[-1:]))
    rests = [
        (first, last)
        for first, last in pairwise(edges.tolist())
        if not sounding[first] and (last - first) * step_s >= SHORTEST_REST_S
    ]
    ends = [0, *(edge for rest in rests for edge in rest), level_db.size]
    spans: list[tuple[PassageKind, int, int]] = [
        ("rest" if number % 2 else "riff", first, last)
        for number, (first, last) in enumerate(pairwise(ends))
        if last > first
    ]
    start_s = float(time_s[0]) - step_s / 2
    numbers = {kind: count(1) for kind in ("riff", "rest")}
    return Located(
        ReelLayout(
            tuple(
                Passage(f"{_FOUND_NAMES[kind]} {next(numbers[kind])}", kind, first * step_s, last * step_s)
                for kind, first, last in spans
            )
        ),
        start_s,
        known=False,
    )


def locate(layout: ReelLayout, level_db: Samples, time_s: Samples) -> Located | None:
    """Lay a layout over a recording's level where the two agree best.

    Args:
        layout: of the reel.
        level_db: (frames,) of the reference, evenly spaced.
        time_s: (frames,) middle of each frame in the reference.

    Returns:
        None when the recording does not follow the layout anywhere.
    """
    step_s = float(time_s[1] - time_s[0])
    likeness, sounding_size = _likeness(layout, level_db, step_s)
    best = int(np.argmax(likeness))
    if likeness[best] < LEAST_LIKENESS:
        return None
    shift = best - (sounding_size - 1)
    return Located(layout, float(time_s[0] + shift * step_s - step_s / 2))


def likeness_of(layout: ReelLayout, level_db: Samples, step_s: float) -> float:
    """Correlation of a recording's level with a layout where the two agree best, -1 to 1.

    Args:
        layout: of the reel.
        level_db: (frames,) of the recording, at least one.
        step_s: seconds between two frames.
    """
    return float(_likeness(layout, level_db, step_s)[0].max())


def _likeness(layout: ReelLayout, level_db: Samples, step_s: float) -> tuple[Samples, int]:
    """Correlation at every shift of the layout against the recording, and the frames that the layout has."""
    level = np.maximum(level_db, level_db.max() - LEVEL_RANGE_DB)
    middle_s = np.arange(max(1, round(layout.duration_s / step_s))) * step_s + step_s / 2
    sounding = np.ones(middle_s.size)
    for passage in layout.of_kind(*_QUIET):
        sounding[(middle_s >= passage.start_s) & (middle_s < passage.end_s)] = 0.0
    level, sounding = level - level.mean(), sounding - sounding.mean()
    scale = float(np.linalg.norm(level) * np.linalg.norm(sounding))
    alike = np.correlate(level, sounding, mode="full")
    return (alike / scale if scale > 0 else np.zeros_like(alike)), sounding.size
