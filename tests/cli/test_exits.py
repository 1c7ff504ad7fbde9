"""Every error there is has an exit code of its family."""

import re
from collections.abc import Callable, Iterator

import pytest

from optimiser.cli.exits import BUG, INTERRUPTED, exit_code
from optimiser.errors import OUTCOMES, Fault, OptimiserError, SheetError, outcome_of


def family(parent: type[OptimiserError]) -> Iterator[type[OptimiserError]]:
    for child in parent.__subclasses__():
        yield child
        yield from family(child)


@pytest.mark.parametrize("kind", list(family(OptimiserError)), ids=lambda kind: kind.__name__)
def test_every_error_has_one_documented_code(kind: type[OptimiserError]) -> None:
    error = kind.__new__(kind)
    assert exit_code(error) in (2, 3, 4, 5, 6)
    assert outcome_of(error).status in (400, 404, 409, 422, 503, 507)


def test_the_codes_are_as_documented() -> None:
    assert sorted({outcome.exit_code for outcome in OUTCOMES.values()}) == [2, 3, 4, 5, 6]
    assert exit_code(SheetError([Fault("study", "name", "nothing", "a text", "write one")])) == 3


def test_the_help_lists_every_code_that_a_script_can_meet(say: Callable[..., str]) -> None:
    listed = say("--help").split("Exit codes: ")[1]
    codes = {0, BUG, INTERRUPTED, *(outcome.exit_code for outcome in OUTCOMES.values())}
    assert {int(code) for code in re.findall(r"\d+", listed)} == codes
