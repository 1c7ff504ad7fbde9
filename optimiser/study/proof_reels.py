"""Which of a study's proof reels are one and the same, and which goal reference belongs to which.

A reel is known by the SHA-256 of its layout. The same reel made at another sample rate has its passages elsewhere by a
fraction of a sample, and keeps the name of the one that was made first.
"""

import hashlib
import math
from collections.abc import Mapping
from typing import Any, Final

from optimiser.study.codec import canonical_json

Reel = Mapping[str, Any]
"""What is kept of a reel: kind, riffs, rate_hz, seconds and layout."""

SAME_S: Final = 0.005
"""Seconds by which passages of one reel may differ between two sample rates; riffs differ by more (a choice, no
source)."""


def with_reel(known: Mapping[str, Reel], reel: Reel) -> Mapping[str, Reel]:
    """The proof reels by what they are known by, the newest last; one that is made again moves there."""
    if not reel.get("layout", {}).get("passages"):
        return known
    name = next((name for name, other in known.items() if _is_same(other, reel)), sum_of_layout(reel["layout"]))
    return {**{other: made for other, made in known.items() if other != name}, name: reel}


def sum_of_layout(layout: Mapping[str, Any]) -> str:
    """SHA-256 of a layout, in hexadecimal."""
    return hashlib.sha256(canonical_json(layout).encode()).hexdigest()


def goes_with(goal: Mapping[str, Any], reel: str | None) -> bool:
    """Whether a goal reference may be held against a take of a reel: it may where one of the two is not known.

    Args:
        goal: what was kept of it, with the `reel` that it is of where that is known.
        reel: what the take's is known by, None for one that is not known.
    """
    return reel is None or goal.get("reel") in (None, reel)


def _is_same(one: Reel, other: Reel) -> bool:
    passages = [reel["layout"]["passages"] for reel in (one, other)]
    return len(passages[0]) == len(passages[1]) and all(
        (before["name"], before["kind"]) == (after["name"], after["kind"])
        and all(math.isclose(before[end], after[end], abs_tol=SAME_S) for end in ("start_s", "end_s"))
        for before, after in zip(*passages, strict=True)
    )
