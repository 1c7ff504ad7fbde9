"""The files that are played through the chain: a marker, riffs with gaps, a chord left to ring, a dyad, a rest.

Kinds of reel:
    learning: marker, silence, the riffs in the proposed order. Played only while the capture device learns.
    proof, verify: marker, silence, each riff softly and then hard, a chord left to ring, the dyad, a rest.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from optimiser.audio.reel_sounds import CHORD_S, DYAD_S, MARKER_S, dyad_sound, marker_sound, ringing_chord
from optimiser.errors import BadInput, InvalidRecording
from optimiser.scoring import Passage, PassageKind, ReelLayout, Samples, check_finite, check_rate
from optimiser.units import ratio_from_decibels

ReelKind = Literal["learning", "proof", "verify"]

SILENCE_S: Final = 0.5
"""Seconds of silence after the marker (common practice, no source)."""

GAP_S: Final = 0.3
"""Seconds between riffs, long enough for a tail to be heard (common practice, no source)."""

REST_S: Final = 1.0
"""Seconds of rest at the end, where noise and hum are measured; 0.7 are enough (common practice, no source)."""

SOFT_DB: Final = -10.0
"""dB. How much softer the soft playing of each riff is (common practice, no source)."""

SHORTEST_RIFF_S: Final = 0.2
"""Seconds. Shorter clips hold no playing (common practice, no source)."""

LONGEST_RIFF_S: Final = 20.0
"""Seconds. Longer clips make every trial slow (common practice, no source)."""

_Stretch = tuple[str, PassageKind, int]


@dataclass(frozen=True, eq=False)
class Reel:
    """One dry file to be played.

    Attributes:
        samples: (n,) float64.
        rate_hz: samples per second.
        layout: where everything lies in it.
    """

    samples: Samples
    rate_hz: int
    layout: ReelLayout


def build_reel(
    riffs: Mapping[str, Samples],
    order: Sequence[str],
    kind: ReelKind,
    rate_hz: int,
    *,
    dyad: Samples | None = None,
    chord: Samples | None = None,
) -> Reel:
    """The sound of a reel.

    Args:
        riffs: dry clips by name, (n,) each, full scale +-1.
        order: names of the riffs to play, in order.
        kind: `learning`, `proof` or `verify`.
        rate_hz: samples per second of all clips.
        dyad: (n,) instead of our own dyad, which lasts 1.25 s.
        chord: (n,) instead of our own ringing chord, which lasts 3 s.

    Raises:
        BadInput: an order that the riffs do not allow.
        InvalidRecording: a clip that is empty, too short, too long, clipped, or no sound of one channel.
    """
    check_rate(rate_hz)
    _check_order(order, riffs)
    clips = {name: _checked_clip(riffs[name], rate_hz, f"Riff {name!r}") for name in order}
    dyad = dyad_sound(rate_hz) if dyad is None else _checked_clip(dyad, rate_hz, "The dyad")
    chord = ringing_chord(rate_hz) if chord is None else _checked_clip(chord, rate_hz, "The chord")
    durations_s = {name: clip.size / rate_hz for name, clip in clips.items()}
    layout = layout_of(order, durations_s, kind, rate_hz, chord_s=chord.size / rate_hz, dyad_s=dyad.size / rate_hz)
    sounds = {"marker": marker_sound(rate_hz), "chord": chord, "dyad": dyad}
    reel = np.zeros(round(layout.duration_s * rate_hz))
    for passage in layout.passages:
        start = round(passage.start_s * rate_hz)
        if passage.kind == "riff":
            name, _, touch = passage.name.rpartition(" ") if kind != "learning" else (passage.name, "", "hard")
            sound = clips[name] * (ratio_from_decibels(SOFT_DB) if touch == "soft" else 1.0)
        elif passage.kind in sounds:
            sound = sounds[passage.kind]
        else:
            continue
        reel[start : start + sound.size] = sound
    return Reel(reel, rate_hz, layout)


def layout_of(
    order: Sequence[str],
    durations_s: Mapping[str, float],
    kind: ReelKind,
    rate_hz: int,
    *,
    chord_s: float = CHORD_S,
    dyad_s: float = DYAD_S,
) -> ReelLayout:
    """Where everything lies in the reel that `build_reel` makes, without making it.

    Args:
        order: names of the riffs, in order.
        durations_s: seconds of each riff.
        kind: `learning`, `proof` or `verify`.
        rate_hz: samples per second; every passage starts on a sample.
        chord_s: seconds of the chord.
        dyad_s: seconds of the dyad.

    Raises:
        BadInput: an order that the riffs do not allow, or an unknown kind of reel.
    """
    _check_order(order, durations_s)
    if kind not in ("learning", "proof", "verify"):
        raise BadInput(f"{kind!r} is no kind of reel.", "Use learning, proof or verify.")

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
        stretches.append(("rest", "rest", samples_of(REST_S)))
    ends = np.cumsum([length for _, _, length in stretches]).tolist()
    return ReelLayout(
        tuple(
            Passage(name, passage_kind, (end - length) / rate_hz, end / rate_hz)
            for (name, passage_kind, length), end in zip(stretches, ends, strict=True)
        )
    )


def _check_order(order: Sequence[str], known: Mapping[str, object]) -> None:
    if not order:
        raise BadInput("A reel needs at least one riff.", "Name the riffs to play, in order.")
    missing = [name for name in order if name not in known]
    if missing:
        raise BadInput(
            f"There is no riff {missing[0]!r}.", f"Use some of {', '.join(sorted(known)) or 'your own riffs'}."
        )
    if len(set(order)) < len(order):
        raise BadInput("A riff order names a riff twice.", "Name each riff once.")


def _checked_clip(clip: Samples, rate_hz: int, name: str) -> Samples:
    sound = np.asarray(clip, dtype=np.float64)
    sound = sound[:, 0] if sound.ndim == 2 and sound.shape[1] == 1 else sound
    if sound.ndim != 1:
        raise InvalidRecording(f"{name} has shape {sound.shape}.", "Hand in one channel, shape (n,).", fault="shape")
    if not SHORTEST_RIFF_S <= sound.size / rate_hz <= LONGEST_RIFF_S:
        raise InvalidRecording(
            f"{name} lasts {sound.size / rate_hz:.2f} s.",
            f"Use a clip of {SHORTEST_RIFF_S:g} to {LONGEST_RIFF_S:g} s.",
            fault="short" if sound.size / rate_hz < SHORTEST_RIFF_S else "too_large",
        )
    check_finite(sound, rate_hz, name)
    peak = float(np.max(np.abs(sound)))
    if peak == 0:
        raise InvalidRecording(f"{name} is silent.", "Record it again.", fault="silent")
    if peak > 1:
        raise InvalidRecording(f"{name} goes above full scale.", "Lower it below 0 dBFS.", fault="clipping")
    return sound
