"""What proposals are made from, kept with them so that they can be made again."""

import platform
from collections.abc import Mapping
from dataclasses import asdict
from importlib.metadata import version
from typing import Any, Final

from optimiser.proposals import SEARCH_VERSION, Proposal, propose
from optimiser.study import Study

_LIBRARIES: Final = ("numpy", "scipy", "scikit-optimize")
"""Libraries whose arithmetic a proposal may rest on."""


def installed() -> dict[str, str]:
    """Everything on which the last digit of a proposal may depend."""
    return {
        "optimiser": version("optimiser"),
        "search": SEARCH_VERSION,
        "python": platform.python_version(),
        "machine": platform.machine(),
        **{name: version(name) for name in _LIBRARIES},
    }


def proposed_from(study: Study, inputs: Mapping[str, Any]) -> tuple[Proposal, ...]:
    """The proposals that follow from a study and what they were asked with, as it is kept with them.

    Raises:
        NothingLeft: no arrangement is left that may be proposed.
    """
    return propose(
        study,
        count=inputs["count"],
        present=inputs["present"],
        locked=inputs["locked"] or None,
        day=inputs["day"],
        minutes=inputs.get("minutes"),
    )


def proposal_body(number: int, proposal: Proposal) -> dict[str, Any]:
    """A proposal as it is kept, but for what it was made from."""
    return {"trial": number, **asdict(proposal)}
