"""What a practitioner can rely on when asking what to try next."""

import json
import math
import os
import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import asdict, replace
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from optimiser.errors import BadInput, BadUse, InvalidSettings, NothingLeft
from optimiser.proposals import outlook, predict, propose, recommend
from optimiser.study import Study, Trial, load_sheet, study_from_json, study_to_json

Hunt = Callable[..., Study]

ROOT = Path(__file__).parents[2]
REPLAY = """
import json, sys
from dataclasses import asdict
from optimiser.proposals import propose
from optimiser.study import study_from_json
study = study_from_json(json.load(sys.stdin))
print(json.dumps([asdict(proposal) for proposal in propose(study, count=2)]))
"""
ONE_KIND_ONLY = [
    '[settings.stage]\nkind = "stage"\nsteps = ["a", "b", "c", "d"]',
    '[settings.cab]\nkind = "choice"\noptions = ["A", "B", "C"]\n[settings.amp]\nkind = "choice"\noptions = ["x", "y"]',
    '[settings.riffs]\nkind = "riff order"\nriffs = ["a", "b", "c", "d", "e", "f", "g", "h"]',
    '[settings.mic]\nkind = "mic"\nspots = ["near", "far", "side"]',
    '[settings.gain]\nkind = "knob"\nscale = "number"\nlow = 0\nhigh = 10',
]


def _sheet_of(tables: str) -> Study:
    return Study(load_sheet('[study]\nname = "one"\n' + tables))


@pytest.mark.parametrize("trials", [0, 3, 9])
@pytest.mark.parametrize("hunt", ["job", "choosy"])
def test_a_proposal_may_be_set_and_written_down(hunt: str, trials: int, request: pytest.FixtureRequest) -> None:
    """It fits the sheet, is JSON through and through, and its figures are figures."""
    study = request.getfixturevalue(hunt)(trials)
    for proposal in propose(study, count=2):
        assert study.sheet.space.allows(proposal.settings)
        assert study.sheet.space.parse(proposal.settings) == proposal.settings
        assert json.loads(json.dumps(asdict(proposal), allow_nan=False)) == asdict(proposal)
        assert proposal.reason
        assert proposal.effort_minutes >= 0.0
        assert proposal.kind in ("first design", "search", "repeat", "check")
        if trials:
            assert proposal.expected is not None
            assert math.isfinite(proposal.expected)
            assert 0.0 <= (proposal.chance_best or 0.0) <= 1.0
            near, portions = study.trial(proposal.nearest or 0).settings, proposal.by_setting.values()
            assert sum(part.gain for part in portions) == pytest.approx(proposal.expected - predict(study, near).mean)


def test_same_study_same_proposal_however_it_comes(job: Hunt) -> None:
    """Live, reloaded from JSON, in another process, and at any number of BLAS threads: the same to the last bit."""
    study = job(8)
    texts = {json.dumps([asdict(proposal) for proposal in propose(study, count=2)])}
    texts.add(json.dumps([asdict(p) for p in propose(study_from_json(study_to_json(study)), count=2)]))
    for threads in ("1", "2"):
        environment = {**os.environ, "OPENBLAS_NUM_THREADS": threads, "OMP_NUM_THREADS": threads}
        done = subprocess.run(
            [sys.executable, "-c", REPLAY],
            input=json.dumps(study_to_json(study)),
            env={**environment, "PYTHONPATH": str(ROOT)},
            capture_output=True,
            text=True,
            check=True,
        )
        texts.add(done.stdout.strip())
    assert len(texts) == 1


def test_the_seed_changes_the_first_design(job: Hunt) -> None:
    study = job()
    assert propose(study, seed=1) == propose(study, seed=1)
    assert propose(study, seed=1)[0].settings != propose(study, seed=2)[0].settings


def test_numbers_of_trials_do_not_matter(job: Hunt) -> None:
    """The same trials in another order give the same predictions, to the bit."""
    study = job(7)
    reversed_trials = tuple(replace(trial, number=8 - (trial.number or 0)) for trial in study.trials)
    settings = study.sheet.space.complete({}, study.trials[0].settings)
    assert predict(study, settings) == predict(Study(study.sheet, reversed_trials), settings)


def test_locked_settings_stay(job: Hunt, choosy: Hunt) -> None:
    for trials in (0, 8):
        for proposal in propose(job(trials), count=2, locked={"gain": "1:00", "mic": "far"}):
            assert proposal.settings["gain"] == 13.0
            assert proposal.settings["mic"] == "far"
    settings = propose(choosy(8), locked={"cabinet": "A and B", "blend": "-3 dB"})[0].settings
    assert settings["blend"] == -3.0


def test_settings_named_stay_as_they_stand(job: Hunt) -> None:
    present = {"gain": "9:00", "stage": "full", "mic": "cone", "riffs": "run,chugs,two-note,held chord"}
    settings = propose(job(6), present=present, locked=["mic", "riffs"])[0].settings
    assert settings["mic"] == "cone"
    assert settings["riffs"] == ["run", "chugs", "two-note", "held chord"]


def test_what_cannot_be_kept_is_said(job: Hunt) -> None:
    with pytest.raises(BadUse, match="gain"):
        propose(job(), locked=["gain"])
    with pytest.raises(BadUse, match="volume"):
        propose(job(3), locked=["volume"])
    with pytest.raises(InvalidSettings):
        propose(job(), locked={"gain": "half past"})
    with pytest.raises(BadUse):
        propose(job(), count=0)


def test_everything_locked_leaves_one_arrangement_and_then_nothing() -> None:
    study = _sheet_of(ONE_KIND_ONLY[0])
    only = propose(study, locked={"stage": "b"})
    assert [proposal.settings for proposal in only] == [{"stage": "b"}]
    declined = study.with_trial(Trial({"stage": "b"}, state="declined"))
    with pytest.raises(NothingLeft):
        propose(declined, locked={"stage": "b"})


@pytest.mark.parametrize("state", ["waiting", "declined"])
@pytest.mark.parametrize("trials", [0, 8])
def test_what_waits_or_was_declined_is_not_proposed_again(job: Hunt, state: str, trials: int) -> None:
    study = job(trials)
    seen = []
    for _ in range(4):
        settings = propose(study)[0].settings
        assert settings not in seen
        seen.append(settings)
        study = study.with_trial(Trial(settings, state=state))


def test_a_declined_neighbourhood_is_left_alone(job: Hunt) -> None:
    """A few minutes more on the dial is no other proposal."""
    study = job(8)
    first = propose(study)[0].settings
    after = propose(study.with_trial(Trial(first, state="declined")))[0].settings
    same_names = all(after[name] == first[name] for name in ("stage", "mic", "riffs"))
    assert not same_names or abs(float(str(after["gain"])) - float(str(first["gain"]))) > 0.25


def test_a_batch_holds_no_arrangement_twice(job: Hunt) -> None:
    for trials in (0, 4, 10):
        study = job(trials)
        keys = [study.sheet.space.key(proposal.settings) for proposal in propose(study, count=5)]
        assert len(set(keys)) == 5


@pytest.mark.parametrize("tables", ONE_KIND_ONLY, ids=["stage", "choices", "orders", "spots", "knob"])
def test_spaces_of_one_kind_work_to_the_end(tables: str) -> None:
    """With every arrangement tried there are still useful repeats, and nothing breaks."""
    study = _sheet_of(tables)
    for number in range(8):
        proposal = propose(study)[0]
        study = study.with_trial(Trial(proposal.settings, overall=50.0 + number % 3))
    assert study.sheet.space.allows(recommend(study).settings)


def test_a_useful_repeat_is_called_one() -> None:
    """Where every arrangement has been tried, what comes again is a repeat and says so."""
    study = _sheet_of(ONE_KIND_ONLY[0])
    for step, overall in (("a", 50.0), ("b", 60.0), ("c", 60.5), ("d", 40.0)):
        study = study.with_trial(Trial({"stage": step}, overall=overall, overall_se=2.0))
    proposal = propose(study)[0]
    assert proposal.kind == "repeat"
    assert proposal.settings["stage"] in ("b", "c")
    assert "again" in proposal.reason


def test_rules_bind_proposals_and_recommendation(choosy: Hunt) -> None:
    """Full with a gain above 7 is never proposed or recommended, even where a forbidden trial did best."""
    study = choosy(8)
    forbidden = {**study.trials[0].settings, "stage": "full", "gain": 9.5}
    study = study.with_trial(Trial(forbidden, overall=95.0, reading=7.0))
    assert study.sheet.space.outside(study.trials[-1].settings) == ("never",)
    for proposal in propose(study, count=3):
        assert study.sheet.space.allows(proposal.settings)
    assert study.sheet.space.allows(recommend(study).settings)


def test_trials_outside_the_ranges_are_evidence(job: Hunt) -> None:
    study = job(6)
    outside = {**study.trials[0].settings, "gain": 7.5, "mic": {"radial_mm": 30, "distance_mm": 20, "angle_deg": 0}}
    before = predict(study, outside)
    after = predict(study.with_trial(Trial(outside, overall=20.0)), outside)
    assert after.mean < before.mean
    assert study.sheet.space.allows(propose(study.with_trial(Trial(outside, overall=20.0)))[0].settings)


def test_failed_runs_teach_to_keep_away(job: Hunt) -> None:
    study = job(8)
    settings = propose(study)[0].settings
    failed = study.with_trial(Trial(settings, state="failed"))
    assert predict(failed, settings).mean < predict(study, settings).mean
    assert propose(failed)[0].settings != settings


def test_readings_bend_the_search_towards_the_band(choosy: Hunt) -> None:
    """Readings fall with gain, so that a gain of 1 is accepted more surely than one of 9."""
    study = choosy(14)
    base = study.sheet.space.complete({"stage": "open"}, study.trials[0].settings)
    low, high = (predict(study, {**base, "gain": gain}).chance_in_band for gain in (1.0, 9.0))
    assert low is not None
    assert high is not None
    assert low > 0.6 > 0.4 > high


def test_a_trial_that_lacks_a_part_still_counts() -> None:
    """Match alone is completed by the articulation that similar trials had."""
    study = _sheet_of(ONE_KIND_ONLY[4])
    for gain, match in ((1.0, 60.0), (5.0, 80.0), (9.0, 40.0)):
        study = study.with_trial(Trial({"gain": gain}, match=match, articulation_kept=0.9))
    more = study.with_trial(Trial({"gain": 6.0}, match=95.0))
    assert predict(more, {"gain": 6.0}).mean > predict(study, {"gain": 6.0}).mean


def test_a_study_with_readings_alone(choosy: Hunt) -> None:
    study = choosy()
    for trial in choosy(6).trials:
        study = study.with_trial(Trial(trial.settings, reading=trial.reading))
    assert study.by_reading_alone
    assert math.isfinite(outlook(study).gain_left)
    assert study.sheet.space.allows(propose(study)[0].settings)


@pytest.mark.parametrize("parts", [1, 2])
def test_nothing_is_told_beyond_the_scale_of_scores_made_of_parts(parts: int) -> None:
    """Two good trials leave much doubt and a belief that still rises; 100 is the most there is."""
    study = _sheet_of(ONE_KIND_ONLY[4])
    for gain, match in ((1.0, 70.0), (3.0, 85.0), (5.0, 97.0)):
        study = study.with_trial(Trial({"gain": gain}, match=match, articulation_kept=0.9 + 0.02 * (parts - 1) * gain))
    tops = []
    for gain in (0.0, 5.0, 6.0, 8.0, 10.0):
        told = predict(study, {"gain": gain})
        assert 0.0 <= told.mean <= 100.0
        tops.append(told.mean + told.se)
    assert max(tops) > 95.0
    kept = recommend(study)
    assert 0.0 <= outlook(study).gain_left <= 100.0 - kept.expected + 2.0
    assert all(0.0 <= (proposal.expected or 0.0) <= 100.0 for proposal in propose(study, count=3))


@pytest.mark.parametrize("scores", [(61.0, 60.9), (61.0, 60.9, 61.1), (61.0, 61.0)])
def test_few_scores_that_happen_to_be_alike_do_not_make_sure(scores: tuple[float, ...]) -> None:
    """An arrangement far from all of them may still lie points away."""
    study = _sheet_of(ONE_KIND_ONLY[4])
    for gain, score in enumerate(scores):
        study = study.with_trial(Trial({"gain": float(gain)}, overall=score))
    assert 1.645 * predict(study, {"gain": 10.0}).se > 1.0
    assert outlook(study).gain_left > 0.3


def test_scores_given_outright_on_the_usual_scale_are_told_on_it() -> None:
    study = _sheet_of(ONE_KIND_ONLY[4])
    for gain, score in ((1.0, 70.0), (3.0, 88.0), (5.0, 99.9)):
        study = study.with_trial(Trial({"gain": gain}, overall=score))
    assert all(predict(study, {"gain": gain}).mean <= 100.0 for gain in (5.0, 6.0, 8.0, 10.0))
    assert outlook(study).gain_left <= 100.0 - recommend(study).expected + 2.0


def test_a_score_given_outright_may_be_on_any_scale() -> None:
    study = _sheet_of(ONE_KIND_ONLY[4])
    for gain in (1.0, 3.0, 5.0):
        study = study.with_trial(Trial({"gain": gain}, overall=400.0 + gain))
    assert predict(study, {"gain": 5.0}).mean > 400.0


def test_before_the_first_result_there_is_nothing_to_predict(job: Hunt) -> None:
    study = job()
    for ask in (lambda: predict(study, propose(study)[0].settings), lambda: recommend(study), lambda: outlook(study)):
        with pytest.raises(BadInput, match="measured"):
            ask()


def test_effort_counts_from_the_present_settings(job: Hunt) -> None:
    study = job(6)
    present = dict(study.trials[2].settings)
    proposal = propose(study, present=present)[0]
    changed = sum(proposal.settings[name] != present[name] for name in present)
    assert changed
    expected = sum(
        study.sheet.space.by_name[name].effort_minutes for name in present if proposal.settings[name] != present[name]
    )
    assert proposal.effort_minutes == pytest.approx(expected)


def test_a_runner_up_takes_less_effort(job: Hunt) -> None:
    found = []
    for trials, seed in product((8, 10, 12, 14), range(4)):
        proposal = propose(job(trials, seed))[0]
        if proposal.runner_up is not None:
            found.append(proposal)
            assert proposal.runner_up.effort_minutes < proposal.effort_minutes
            assert proposal.runner_up.settings != proposal.settings
    assert found


def test_a_hunt_finds_what_is_best(job: Hunt, job_value: Callable[[Mapping[str, Any]], float]) -> None:
    """After 15 trials the settings kept are within 3 points of the best there are (84); random ones lie near 60."""
    study = job()
    for number in range(15):
        settings = propose(study, seed=number)[0].settings
        study = study.with_trial(Trial(settings, overall=job_value(settings)))
    kept = recommend(study)
    assert job_value(kept.settings) > 81.0
    assert abs(kept.expected - job_value(kept.settings)) < 4.0 * kept.expected_se + 1.0


def test_recommended_settings_name_their_trial(job: Hunt) -> None:
    study = job(10)
    kept = recommend(study)
    matching = [trial.number for trial in study.trials if dict(trial.settings) == kept.settings]
    assert kept.trial == (matching[-1] if matching else None)
