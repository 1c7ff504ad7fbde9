"""What is told of outlook, recommendation and advisers, in the words of terminal, page and report alike."""

from collections.abc import Mapping
from typing import Final

from optimiser.proposals.belief import believe
from optimiser.study import Study

_ADVICE: Final = {
    "go on": "go on: make further trials",
    "verify": "verify: make a take of the recommended settings before you keep them",
    "stop": "stop: further trials are not likely to be worth their time",
}


def advice_in_words(advice: str) -> str:
    """Whether to go on, and what that asks for."""
    return _ADVICE.get(advice, advice)


def near_in_words(eps: float) -> str:
    """Which distance from the best counts as near, and why."""
    return f"within {eps:.1f} points of the best (repeats differ by as much)"


def made_in_words(trial: int | None) -> str:
    """Whether the recommended settings were ever made, by the number of their last trial."""
    return "not made in exactly this form yet" if trial is None else f"made in trial {trial}"


def weights_in_words(study: Study, weights: Mapping[str, float]) -> str:
    """What each adviser counts for, by its name, and what the rest is; empty without advisers."""
    if not weights:
        return ""
    told = ", ".join(f"{name!r} counts for {100 * weight:.0f} %" for name, weight in weights.items())
    own = f"{100 * (1.0 - sum(weights.values())):.0f} %"
    if believe(study) is None:
        return f"{told}; the other {own} are open until this study has scores of its own"
    return f"{told}, this study's own trials for {own}"
