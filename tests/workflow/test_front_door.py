"""The front door opens to every step it names."""

import pytest

from optimiser import workflow


@pytest.mark.parametrize("name", workflow.__all__)
def test_every_step_is_found(name: str) -> None:
    assert getattr(workflow, name) is not None


def test_others_are_not() -> None:
    with pytest.raises(AttributeError):
        _ = workflow.dance
