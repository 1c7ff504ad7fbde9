"""What the trade knows before any trial, as weak slopes that the trials overrule.

Too much gain is the first suspect when a capture does not follow its amp, the voicing stage the second (common
practice, no source); and where the wanted tone was recorded the amp itself sounds like it, so that settings farther off
sound less like it. Sizes were chosen on the rehearsal amp (studies/proposals-benchmark), with no other source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.space import Block, encode, encoding
from optimiser.study import StudySheet
from optimiser.surrogate import FLAT, Array, Prior, Trend

DRIVE_NAMES: Final = ("gain", "drive")
"""Knobs of these names drive the amp; so does every stage."""

FOLLOWED_LESS: Final = {"knob": Prior(-0.9, 0.8), "stage": Prior(-0.6, 0.8)}
"""What the whole travel of a drive adds to the logarithm of the match."""

CLEARER: Final = {"knob": Prior(-0.2, 0.3), "stage": Prior(-0.15, 0.3)}
"""What it adds to the logarithm of the articulation kept."""

AWAY: Final = {"knob": Prior(-0.4, 0.5), "stage": Prior(-0.25, 0.4), "spot": Prior(-0.15, 0.3)}
"""What leaving the wanted tone's knob far behind, its step or its spot adds to the logarithm of the goal."""

NEAR_KNOB: Final = 0.25
"""Share of a knob's travel within which its tone is still much the same."""


@dataclass(frozen=True)
class _Driven:
    """Share of its travel at which each drive stands, (m, drives)."""

    columns: tuple[int, ...]
    spans: tuple[float, ...]

    def __call__(self, rows: Array) -> Array:
        return np.asarray(rows[:, list(self.columns)] / np.array(self.spans))


@dataclass(frozen=True)
class _Away:
    """How far each setting lies from that of the wanted tone, 0 to 1, (m, settings)."""

    columns: tuple[int, ...]
    wanted: tuple[float, ...]
    knobs: tuple[bool, ...]

    def __call__(self, rows: Array) -> Array:
        apart = np.abs(rows[:, list(self.columns)] - np.array(self.wanted))
        return np.asarray(np.where(self.knobs, 1.0 - np.exp(-0.5 * (apart / NEAR_KNOB) ** 2), np.minimum(1.0, apart)))


def trend_of(sheet: StudySheet, part: str) -> Trend:
    """What is believed beforehand of the logarithm of one part of the overall score.

    Args:
        sheet: the study's sheet.
        part: match, goal, articulation or ear.
    """
    if not sheet.policy.trade_rules:
        return FLAT
    blocks = [block for block in encoding(sheet.space) if block.active is None]
    if part == "goal":
        return _from_wanted(sheet, [block for block in blocks if block.setting in sheet.goal_settings])
    slopes = {"match": FOLLOWED_LESS, "articulation": CLEARER}.get(part)
    drives = [block for block in blocks if block.kind == "stage" or _is_drive(block)]
    if slopes is None or not drives:
        return FLAT
    spans = tuple(max(1.0, block.levels - 1.0) for block in drives)
    return Trend(
        _Driven(tuple(block.columns[0] for block in drives), spans), tuple(slopes[block.kind] for block in drives)
    )


def _is_drive(block: Block) -> bool:
    return block.kind == "knob" and block.setting in DRIVE_NAMES


def _from_wanted(sheet: StudySheet, blocks: Sequence[Block]) -> Trend:
    known = [block for block in blocks if block.kind in AWAY]
    if not known:
        return FLAT
    row = encode(sheet.space, [sheet.goal_settings])[0]
    columns = tuple(block.columns[0] for block in known)
    wanted = tuple(float(row[column]) for column in columns)
    features = _Away(columns, wanted, tuple(block.kind == "knob" for block in known))
    return Trend(features, tuple(AWAY[block.kind] for block in known))
