"""Earlier studies as advisers: fewer trials when they agree, little lost when not, and nothing changed without them."""

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimiser.errors import BadInput
from optimiser.proposals import predict, propose, recommend, refusals, weigh_advisers
from optimiser.study import Study, Trial, load_sheet, seed_of, study_from_json, study_to_json
from tests.proposals.conftest import JOB, Hunt

Value = Callable[[Mapping[str, Any]], float]


def _named(study: Study, name: str) -> Study:
    return replace(study, sheet=replace(study.sheet, name=name))


def _rescored(study: Study, factor: float, offset: float) -> Study:
    trials = tuple(replace(trial, overall=offset + factor * (trial.overall or 0.0)) for trial in study.trials)
    return replace(study, trials=trials)


def _advised(study: Study, *advisers: Study) -> Study:
    return replace(study, advisers=advisers)


@pytest.fixture
def old(job: Hunt) -> Study:
    return _named(job(24, seed=5), "old")


@pytest.fixture
def upside_down(old: Study) -> Study:
    return _named(_rescored(old, -1.0, 100.0), "upside-down")


def test_a_study_without_advisers_is_written_as_it_always_was(job: Hunt) -> None:
    """Its canonical JSON, hence its seed and its proposals, knows of no advisers."""
    study = job(3)
    assert set(study_to_json(study)) == {"sheet", "trials", "goal_known"}
    assert seed_of(replace(study, advisers=())) == seed_of(study)
    assert weigh_advisers(study) == ()


def test_advisers_survive_json_and_change_the_seed(job: Hunt, old: Study) -> None:
    study = _advised(job(3), old)
    assert study_from_json(json.loads(json.dumps(study_to_json(study)))) == study
    assert seed_of(study) != seed_of(job(3))


def test_the_order_of_advisers_does_not_matter(job: Hunt, old: Study, upside_down: Study) -> None:
    one, other = _advised(job(7), old, upside_down), _advised(job(7), upside_down, old)
    assert one == other
    assert propose(one) == propose(other)


def test_an_adviser_is_named_once_and_brings_none_of_its_own(job: Hunt, old: Study, upside_down: Study) -> None:
    with pytest.raises(BadInput, match="named as an adviser twice"):
        _advised(job(), old, old)
    assert _advised(job(), _advised(old, upside_down)).advisers == (old,)


def test_weights_are_shares(job: Hunt, old: Study, upside_down: Study) -> None:
    for trials in (0, 1, 2, 6, 12):
        weights = [adviser.weight for adviser in weigh_advisers(_advised(job(trials), old, upside_down))]
        assert all(0.0 <= weight <= 1.0 for weight in weights)
        assert sum(weights) <= 1.0


def test_an_adviser_upside_down_loses_its_say_and_one_that_agrees_keeps_it(
    job: Hunt, old: Study, upside_down: Study
) -> None:
    def weight(adviser: Study, trials: int) -> float:
        return weigh_advisers(_advised(job(trials), adviser))[0].weight

    assert weight(old, 0) == pytest.approx(weight(upside_down, 0), abs=0.1)
    falling = [weight(upside_down, trials) for trials in (0, 6, 12)]
    assert falling == sorted(falling, reverse=True)
    assert falling[-1] < 0.2 < 0.5 < weight(old, 12)


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(factor=st.floats(0.05, 50.0), offset=st.floats(-100.0, 100.0))
def test_another_scale_of_the_adviser_changes_nothing(job: Hunt, factor: float, offset: float) -> None:
    study, adviser = job(7), _named(job(16, seed=5), "old")
    plain, other = (_advised(study, seen) for seen in (adviser, _rescored(adviser, factor, offset)))
    assert weigh_advisers(other)[0].weight == pytest.approx(weigh_advisers(plain)[0].weight, abs=0.01)
    for wanted in (study.trials[0].settings, adviser.trials[0].settings):
        assert predict(other, wanted).mean == pytest.approx(predict(plain, wanted).mean, abs=0.1)
        assert predict(other, wanted).se == pytest.approx(predict(plain, wanted).se, abs=0.1)


def test_the_first_trial_goes_where_the_advisers_hold_the_best_the_second_elsewhere(
    job: Hunt, old: Study, job_value: Value
) -> None:
    first, second = propose(_advised(job(), old), count=2)
    advised = next(proposal for proposal in (first, second) if "'old' holds the best" in proposal.reason)
    spread = second if advised is first else first
    assert job_value(advised.settings) > 78.0  # of 84 at most
    assert spread.reason == "spread out to learn the space"
    assert {first.kind, second.kind} == {"first design"}


def test_known_settings_of_the_wanted_tone_come_second(old: Study) -> None:
    goal = '[goal]\ngain = "2:00"\nstage = "open"\nmic = "cone"\n'
    study = _advised(Study(load_sheet(JOB.replace("[settings.gain]", f"{goal}[settings.gain]", 1))), old)
    reasons = []
    for _ in range(3):
        proposal = propose(study)[0]
        reasons.append(proposal.reason.split(",")[0])
        study = study.with_trial(Trial(proposal.settings, state="failed"))
    assert reasons == [
        "where 'old' holds the best",
        "where the wanted tone was recorded",
        "spread out to learn the space",
    ]


def test_an_agreeing_adviser_finds_the_best_within_a_few_trials(job: Hunt, old: Study, job_value: Value) -> None:
    """The adviser knows the same amp on another scale; without it six trials would be spread out first."""
    study = _advised(job(), _rescored(old, 0.5, 10.0))
    for _ in range(4):
        wanted = propose(study)[0].settings
        study = study.with_trial(Trial(wanted, overall=job_value(wanted)))
    assert job_value(recommend(study).settings) > 81.0


def test_a_failed_first_trial_does_not_bring_it_again(job: Hunt, old: Study) -> None:
    study = _advised(job(), old)
    wanted = propose(study)[0].settings
    study = study.with_trial(Trial(wanted, state="failed"))
    assert propose(study)[0].settings != wanted


def test_an_adviser_with_few_trials_or_nothing_in_common_says_why_and_counts_for_nothing(
    job: Hunt, choosy: Hunt
) -> None:
    few = _advised(job(6), _named(job(4, seed=2), "few"))
    assert refusals(few) == ("few has 4 scored trials that job can use, and needs 5",)
    assert weigh_advisers(few)[0].weight == 0.0
    assert propose(few, seed=3)[0].settings == propose(job(6), seed=3)[0].settings
    knob = '[study]\nname = "other"\n[settings.bias]\nkind = "knob"\nscale = "number"\nlow = 0\nhigh = 1\n'
    other = Study(load_sheet(knob))
    for number in range(6):
        other = other.with_trial(Trial({"bias": number / 5}, overall=float(number)))
    assert refusals(_advised(choosy(6), other)) == ("other has no setting in common with choosy",)


def test_a_sheet_unlike_the_advisers_takes_what_it_can(choosy: Hunt, old: Study) -> None:
    study = _advised(choosy(6), old)
    adviser = weigh_advisers(study)[0]
    assert adviser.trials < 24  # the step `pushed` is no step there
    assert "gain (on another scale there)" in adviser.ignored
    assert "cabinet (not varied there)" in adviser.ignored
    assert study.sheet.space.allows(propose(study)[0].settings)


def test_parts_are_advised_part_by_part(job: Hunt) -> None:
    def of_parts(trials: int, seed: int) -> Study:
        made = job(trials, seed=seed, noise=0.0)
        return replace(made, trials=tuple(_in_parts(trial) for trial in made.trials))

    study = _advised(of_parts(8, 1), _named(of_parts(20, 2), "old"))
    assert weigh_advisers(study)[0].weight > 0.4
    assert propose(study)[0].expected is not None


def _in_parts(trial: Trial) -> Trial:
    gain = trial.settings["gain"]
    score = trial.overall or 0.0
    return replace(trial, overall=None, match=max(5.0, min(99.0, score)), goal=95.0 - 3.0 * abs(gain - 13.0))
