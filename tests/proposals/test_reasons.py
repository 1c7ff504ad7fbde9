"""Why a trial is worth making, in words that the figures beside it bear out."""

import re
from collections.abc import Callable

import pytest

from optimiser.proposals import Proposal, outlook, propose
from optimiser.study import Study, Trial, load_sheet

Hunt = Callable[..., Study]

PLAIN = """
[study]
name = "plain"
[settings.stage]
kind = "stage"
steps = ["a", "b", "c"]
[settings.gain]
kind = "knob"
scale = "number"
low = 0
high = 10
"""


@pytest.fixture(scope="module")
def walked() -> list[tuple[Study, Proposal]]:
    """Sixteen trials, each as it was proposed, on a space that eight of them nearly settle; the study before each."""
    study, steps = Study(load_sheet(PLAIN)), list[tuple[Study, Proposal]]()
    for _ in range(17):
        (proposal,) = propose(study)
        steps.append((study, proposal))
        gain = float(str(proposal.settings["gain"]))
        overall = 80.0 - 30.0 * (proposal.settings["stage"] != "b") - (gain - 4.0) ** 2
        study = study.with_trial(Trial(proposal.settings, overall=overall))
    return steps


def test_a_trial_that_is_hardly_a_new_best_says_what_it_is_good_for(walked: list[tuple[Study, Proposal]]) -> None:
    told = set()
    for _, proposal in walked:
        lesson, chance = proposal.lesson, proposal.chance_best
        if lesson is None or chance is None:
            assert "lift" not in proposal.reason
        elif lesson < 0.05:
            told.add("little")
            assert "should lift what can be kept by under 0.1 points on average" in proposal.reason
        elif chance < 0.1:
            told.add("some")
            assert f"should lift what can be kept by {lesson:.1f} points on average" in proposal.reason
        else:
            assert "lift" not in proposal.reason
    assert told == {"some", "little"}


def test_where_little_is_left_to_learn_the_outlook_does_not_say_go_on(walked: list[tuple[Study, Proposal]]) -> None:
    study, proposal = walked[-1]
    assert "the outlook says whether more are worth it" in proposal.reason
    assert outlook(study).advice in ("verify", "stop")


def test_doubt_is_named_with_the_points_that_are_told_of_it(job: Hunt, walked: list[tuple[Study, Proposal]]) -> None:
    """Half of a 90 % interval, 1.645 standard deviations, as behind every +-."""
    told = 0
    for proposal in (*(proposal for _, proposal in walked), *propose(job(7), count=3)):
        assert "expected" not in proposal.reason
        doubt = re.search(r"(most|much) of the doubt about it, ([\d.]+) points, comes with ([^;]*)", proposal.reason)
        if doubt:
            named = [part.doubt for name, part in proposal.by_setting.items() if f"the {name}" in doubt[3]]
            grown = sum(part.doubt for part in proposal.by_setting.values() if part.doubt > 0.0)
            assert float(doubt[2]) == pytest.approx(1.645 * sum(named), abs=0.051)
            assert (doubt[1] == "most") == (sum(named) >= 0.5 * grown)
            told += 1
    assert told
