"""Finds the settings with which a digital capture of a guitar amplifier sounds and answers like the amp.

The public names below are loaded when they are first used, so that importing the package costs nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from optimiser.proposals import (
        Outlook,
        Prediction,
        Proposal,
        Recommendation,
        outlook,
        predict,
        propose,
        recommend,
    )
    from optimiser.review import Share, mattered
    from optimiser.scoring import Measurement, measure
    from optimiser.study import Study, StudySheet, Trial, load_sheet

_ROOMS: Final[dict[str, str]] = {
    **dict.fromkeys(("Study", "StudySheet", "Trial", "load_sheet"), "optimiser.study"),
    **dict.fromkeys(("Measurement", "measure"), "optimiser.scoring"),
    **dict.fromkeys(
        ("Outlook", "Prediction", "Proposal", "Recommendation", "outlook", "predict", "propose", "recommend"),
        "optimiser.proposals",
    ),
    **dict.fromkeys(("Share", "mattered"), "optimiser.review"),
}

__all__ = [
    "Measurement",
    "Outlook",
    "Prediction",
    "Proposal",
    "Recommendation",
    "Share",
    "Study",
    "StudySheet",
    "Trial",
    "load_sheet",
    "mattered",
    "measure",
    "outlook",
    "predict",
    "propose",
    "recommend",
]


def __getattr__(name: str) -> object:
    """Load a public name from its room on first use (PEP 562)."""
    if name not in _ROOMS:
        raise AttributeError(f"module 'optimiser' has no attribute {name!r}")
    return getattr(import_module(_ROOMS[name]), name)


def __dir__() -> list[str]:
    """The public names."""
    return sorted([*globals(), *_ROOMS])
