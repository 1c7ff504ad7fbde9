"""The files that are played through the chain, as sound: what lies where is told by `reel_layout`."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.audio.reel_layout import ReelKind, check_order, layout_of
from optimiser.audio.reel_sounds import dyad_sound, marker_sound, ringing_chord, sweep_sound
from optimiser.errors import InvalidRecording
from optimiser.scoring import ReelLayout, Samples, check_finite, check_rate
from optimiser.units import ratio_from_decibels

SOFT_DB: Final = -10.0
"""dB. How much softer the soft playing of each riff is (common practice, no source)."""

SHORTEST_RIFF_S: Final = 0.2
"""Seconds. Shorter clips hold no playing (common practice, no source)."""

LONGEST_RIFF_S: Final = 20.0
"""Seconds. Longer clips make every trial slow (common practice, no source)."""


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
    sweep: bool = False,
) -> Reel:
    """The sound of a reel.

    Args:
        riffs: dry clips by name, (n,) each, full scale +-1.
        order: names of the riffs to play, in order.
        kind: `learning`, `proof` or `verify`.
        rate_hz: samples per second of all clips.
        dyad: (n,) instead of our own dyad, which lasts 1.25 s.
        chord: (n,) instead of our own ringing chord, which lasts 3 s.
        sweep: play a sweep of 4 s from 20 Hz to 20 kHz before the rest.

    Raises:
        BadInput: an order that the riffs do not allow, or a sweep where there can be none.
        InvalidRecording: a clip that is empty, too short, too long, clipped, or no sound of one channel.
    """
    check_rate(rate_hz)
    check_order(order, riffs)
    clips = {name: _checked_clip(riffs[name], rate_hz, f"Riff {name!r}") for name in order}
    dyad = dyad_sound(rate_hz) if dyad is None else _checked_clip(dyad, rate_hz, "The dyad")
    chord = ringing_chord(rate_hz) if chord is None else _checked_clip(chord, rate_hz, "The chord")
    durations_s = {name: clip.size / rate_hz for name, clip in clips.items()}
    chord_s, dyad_s = chord.size / rate_hz, dyad.size / rate_hz
    layout = layout_of(order, durations_s, kind, rate_hz, chord_s=chord_s, dyad_s=dyad_s, sweep=sweep)
    sounds = {"marker": marker_sound(rate_hz), "chord": chord, "dyad": dyad}
    if sweep:
        sounds["sweep"] = sweep_sound(rate_hz)
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
