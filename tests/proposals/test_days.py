"""A constant on a whole day never moves what is recommended, and check trials are asked for when they pay."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from optimiser.proposals import Belief, believe, outlook, propose, recommend
from optimiser.proposals.check_trial import check_pays
from optimiser.space import Settings
from optimiser.study import Study, Trial

Hunt = Callable[..., Study]


def _over_days(study: Study, *, linked: bool = True) -> Study:
    """The same trials over three days; where they are linked, each day begins with the first trial again."""
    third = len(study.trials) // 3
    trials = []
    for place, trial in enumerate(study.trials):
        day, first = min(2, place // third), linked and place in (third, 2 * third)
        source = study.trials[0] if first else trial
        scored = source.overall if not first else (source.overall or 0.0) + 0.3
        trials.append(replace(trial, settings=source.settings, overall=scored, day=f"2026-03-0{day + 1}"))
    return Study(study.sheet, tuple(trials))


def _raised(study: Study, day: str, points: float) -> Study:
    return Study(
        study.sheet,
        tuple(
            replace(trial, overall=(trial.overall or 0.0) + points) if trial.day == day else trial
            for trial in study.trials
        ),
    )


@pytest.mark.parametrize("points", [-20.0, -1.7, 0.9, 6.3, 50.0])
@pytest.mark.parametrize("day", ["2026-03-01", "2026-03-02", "2026-03-03"])
def test_a_constant_on_a_whole_day_does_not_move_the_recommendation(job: Hunt, day: str, points: float) -> None:
    study = _over_days(job(18))
    raised = _raised(study, day, points)
    before, after = recommend(study), recommend(raised)
    assert after.settings == before.settings
    assert after.expected_se == pytest.approx(before.expected_se, rel=1e-6)


def test_a_failed_run_is_as_bad_as_its_day_allows(job: Hunt) -> None:
    """Twenty points more on its day change nothing of what is recommended either."""
    study = _over_days(job(18))
    failed = study.with_trial(Trial(job(25).trials[-1].settings, state="failed", day="2026-03-02"))
    raised = _raised(failed, "2026-03-02", 20.0)
    assert recommend(raised).settings == recommend(failed).settings


def test_the_shift_is_told_with_its_day(job: Hunt) -> None:
    study = _over_days(job(18))
    before, after = outlook(study).days, outlook(_raised(study, "2026-03-02", 6.0)).days
    assert [day.day for day in after] == ["2026-03-01", "2026-03-02", "2026-03-03"]
    assert [day.trials for day in after] == [6, 6, 6]
    assert after[1].shift - before[1].shift == pytest.approx(4.0)
    assert after[0].shift - before[0].shift == pytest.approx(-2.0)
    assert all(day.linked for day in after)


def test_days_without_a_link_say_so(job: Hunt) -> None:
    assert not any(day.linked for day in outlook(_over_days(job(18), linked=False)).days)


def test_no_day_no_check(job: Hunt) -> None:
    study = _over_days(job(18))
    assert all(proposal.kind != "check" for proposal in propose(study, count=3))
    assert propose(study, day="2026-03-03")[0].kind != "check"
    assert propose(job(3), day="2026-03-09")[0].kind != "check"


def test_a_check_pays_where_days_may_differ_by_anything(job: Hunt, monkeypatch: pytest.MonkeyPatch) -> None:
    """One arrangement made twice on such a day is compared with nothing; made once after a check it is."""
    belief = believe(job(14))
    assert belief is not None
    monkeypatch.setattr(type(belief.overall), "day_variance", lambda _: 1e6)
    best, doubtful = _best_and_doubtful(belief)
    assert check_pays(belief, best, [doubtful, doubtful], [])


def test_no_check_where_days_are_alike_and_there_is_more_to_learn_elsewhere(
    job: Hunt, monkeypatch: pytest.MonkeyPatch
) -> None:
    belief = believe(job(6, noise=0.01))
    assert belief is not None
    monkeypatch.setattr(type(belief.overall), "day_variance", lambda _: 0.0)
    best, doubtful = _best_and_doubtful(belief)
    assert not check_pays(belief, best, [doubtful], [])


def _best_and_doubtful(belief: Belief) -> tuple[Settings, Settings]:
    """The arrangement tried that is believed best, and an untried one that might well be better."""
    best = max(belief.evidence.settings, key=lambda settings: float(belief.mean_sd([settings])[0][0]))
    rng = np.random.default_rng(0)
    fresh = [belief.space.sample(rng) for _ in range(200)]
    mean, sd = belief.mean_sd(fresh)
    return dict(best), fresh[int(np.argmax(mean + sd))]
