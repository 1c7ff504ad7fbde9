"""Where everything lies in the files that are played through the chain.

Kinds of reel:
    learning: marker, silence, the riffs in the proposed order. Played only while the capture device learns.
    proof, verify: marker, silence, each riff softly and then hard, a chord left to ring, the dyad, where wanted a
        sweep, a rest.
"""

from collections.abc import Mapping, Sequence
from typing import Final, Literal, get_args

import numpy as np

from optimiser.audio.reel_sounds import CHORD_S, DYAD_S, MARKER_S
from optimiser.errors import BadInput
from optimiser.scoring import SWEEP_HZ, SWEEP_S, Passage, PassageKind, ReelLayout

ReelKind = Literal["learning", "proof", "verify"]

SILENCE_S: Final = 0.5
"""Seconds of silence after the marker (common practice, no source)."""

GAP_S: Final = 0.3
"""Seconds between riffs, long enough for a tail to be heard (common practice, no source)."""

REST_S: Final = 1.0
"""Seconds of rest at the end, where noise and hum are measured; 0.7 are enough (common practice, no source)."""

USEFUL_S: Final = (20.0, 30.0)
"""Seconds that a proof or verify reel should last: enough playing to tell amps apart, short enough to be played for
every trial (common practice, no source)."""

_Stretch = tuple[str, PassageKind, int]


def layout_of(
    order: Sequence[str],
    durations_s: Mapping[str, float],
    kind: ReelKind,
    rate_hz: int,
    *,
    chord_s: float = CHORD_S,
    dyad_s: float = DYAD_S,
    sweep: bool = False,
) -> ReelLayout:
    """Where everything lies in the reel that `build_reel` makes, without making it.

    Args:
        order: names of the riffs, in order.
        durations_s: seconds of each riff.
        kind: `learning`, `proof` or `verify`.
        rate_hz: samples per second; every passage starts on a sample.
        chord_s: seconds of the chord.
        dyad_s: seconds of the dyad.
        sweep: with a sweep of 4 s before the rest.

    Raises:
        BadInput: an order that the riffs do not allow, an unknown kind of reel, or a sweep in a learning reel or at a
            rate too low for it.
    """
    check_order(order, durations_s)
    if kind not in get_args(ReelKind):
        raise BadInput(f"{kind!r} is no kind of reel.", "Use learning, proof or verify.")
    if sweep:
        _check_sweep(kind, rate_hz)

    def samples_of(seconds: float) -> int:
        return round(seconds * rate_hz)

    gap: _Stretch = ("gap", "silence", samples_of(GAP_S))
    stretches: list[_Stretch] = [
        ("marker", "marker", samples_of(MARKER_S)),
        ("silence", "silence", samples_of(SILENCE_S)),
    ]
    for name in order:
        length = samples_of(durations_s[name])
        for heard in (name,) if kind == "learning" else (f"{name} soft", f"{name} hard"):
            stretches += [(heard, "riff", length), gap]
    if kind != "learning":
        stretches += [("chord", "chord", samples_of(chord_s)), ("dyad", "dyad", samples_of(dyad_s))]
        stretches += [gap, ("sweep", "sweep", samples_of(SWEEP_S))] if sweep else []
        stretches.append(("rest", "rest", samples_of(REST_S)))
    ends = np.cumsum([length for _, _, length in stretches]).tolist()
    return ReelLayout(
        tuple(
            Passage(name, passage_kind, (end - length) / rate_hz, end / rate_hz)
            for (name, passage_kind, length), end in zip(stretches, ends, strict=True)
        )
    )


def length_remarks(layout: ReelLayout) -> tuple[str, ...]:
    """What to say of how long a proof or verify reel lasts; nothing when it lasts 20 to 30 s."""
    shortest_s, longest_s = USEFUL_S
    said = f"The reel lasts {layout.duration_s:.1f} s; {shortest_s:.0f} to {longest_s:.0f} s"
    if layout.duration_s < shortest_s:
        return (f"{said} show more.",)
    if layout.duration_s > longest_s:
        return (f"{said} are enough, and every trial plays it twice.",)
    return ()


def _check_sweep(kind: ReelKind, rate_hz: int) -> None:
    if kind == "learning":
        raise BadInput("A learning reel plays riffs alone, no sweep.", "Ask for the sweep in a proof or verify reel.")
    if rate_hz <= 2 * SWEEP_HZ[1]:
        raise BadInput(
            f"A sweep to {SWEEP_HZ[1] / 1000:g} kHz needs more than {rate_hz} samples a second.",
            "Use riffs at 44.1 kHz or more, or leave the sweep out.",
        )


def check_order(order: Sequence[str], known: Mapping[str, object]) -> None:
    """Refuse an order that is empty, names a riff twice, or one that there is not.

    Raises:
        BadInput: any of these.
    """
    if not order:
        raise BadInput("A reel needs at least one riff.", "Name the riffs to play, in order.")
    missing = [name for name in order if name not in known]
    if missing:
        raise BadInput(
            f"There is no riff {missing[0]!r}.", f"Use some of {', '.join(sorted(known)) or 'your own riffs'}."
        )
    if len(set(order)) < len(order):
        raise BadInput("A riff order names a riff twice.", "Name each riff once.")
