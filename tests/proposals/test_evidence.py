"""Which trials are evidence, and for how much they count."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from optimiser.proposals.evidence import factors_of, overall_evidence, reading_evidence
from optimiser.study import Study, Trial, load_sheet

Hunt = Callable[..., Study]

SHEET = """
[study]
name = "parts"
[settings.gain]
kind = "knob"
scale = "number"
low = 0
high = 10
[overall]
match = 1
articulation = 1
ear = 1
"""


def _parts(*trials: Trial) -> Study:
    return Study(load_sheet(SHEET), trials)


def test_waiting_declined_and_void_trials_say_nothing(job: Hunt) -> None:
    study = job(4)
    settings = study.trials[0].settings
    for state in ("waiting", "declined", "void"):
        study = study.with_trial(Trial(settings, overall=0.0, state=state))
    assert len(overall_evidence(study)) == 4


def test_a_failed_run_counts_as_the_lowest_with_doubt(job: Hunt) -> None:
    study = job(4)
    failed = study.with_trial(Trial(study.trials[0].settings, state="failed"))
    evidence = overall_evidence(failed)
    place = evidence.numbers.index(5)
    assert evidence.values[place] == min(trial.overall or 0.0 for trial in study.trials)
    assert evidence.errors[place] > 0.0


def test_failed_runs_alone_are_no_evidence(job: Hunt) -> None:
    study = job()
    assert len(overall_evidence(study.with_trial(Trial(job(1).trials[0].settings, state="failed")))) == 0


def test_a_missing_part_is_predicted_with_doubt() -> None:
    """Full trials with an ear rating that rises with gain; the trial without one lies between its neighbours."""
    full = [Trial({"gain": gain}, match=80.0, articulation_kept=0.8, ear=2.0 + gain / 2) for gain in (0, 2, 4, 6, 8)]
    evidence = overall_evidence(_parts(*full, Trial({"gain": 5.0}, match=80.0, articulation_kept=0.8)))
    by_number = dict(zip(evidence.numbers, zip(evidence.values, evidence.errors, strict=True), strict=True))
    assert by_number[3][0] < by_number[6][0] < by_number[4][0]
    assert by_number[6][1] > 0.0
    assert by_number[3][1] == 0.0


def test_a_part_that_no_trial_has_counts_for_none() -> None:
    """Geometric mean of match and articulation alone, closed form."""
    evidence = overall_evidence(_parts(Trial({"gain": 1.0}, match=64.0, articulation_kept=1.0)))
    assert evidence.values[0] == pytest.approx(80.0)


def test_a_reading_alone_does_not_hide_what_others_tell_of_the_parts() -> None:
    full = [Trial({"gain": gain}, match=70.0 + gain, articulation_kept=0.9 - gain / 50, ear=7.0) for gain in (0, 3, 7)]
    alone = Trial({"gain": 5.0}, reading=6.0)
    (top, parts), (top_with, parts_with) = factors_of(_parts(*full)), factors_of(_parts(*full, alone))
    assert [part.name for part in parts] == ["match", "articulation"] == [part.name for part in parts_with]
    assert top == top_with
    for part, part_with in zip(parts, parts_with, strict=True):
        np.testing.assert_array_equal(part.logs.values, part_with.logs.values)
        np.testing.assert_array_equal(part.logs.rows, part_with.logs.rows)


def test_order_of_trials_does_not_matter(job: Hunt) -> None:
    study = job(5)
    turned = Study(study.sheet, tuple(replace(trial, number=6 - (trial.number or 0)) for trial in study.trials))
    np.testing.assert_array_equal(overall_evidence(study).values, overall_evidence(turned).values)
    np.testing.assert_array_equal(overall_evidence(study).rows, overall_evidence(turned).rows)


def test_days_are_told_apart(job: Hunt) -> None:
    study = job(2)
    days = ("2026-03-02", "2026-03-03")
    dated = Study(study.sheet, tuple(replace(trial, day=day) for trial, day in zip(study.trials, days, strict=True)))
    assert len(set(overall_evidence(dated).days)) == 2


def test_readings_of_failed_runs_count(choosy: Hunt) -> None:
    study = choosy(3)
    failed = study.with_trial(Trial(study.trials[0].settings, reading=1.0, state="failed"))
    assert sorted(reading_evidence(failed).numbers) == [1, 2, 3, 4]
