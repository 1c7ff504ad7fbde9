import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from optimiser.review import RELATION_NOTE, Standing, build_report, reading_relation, study_relation
from optimiser.review.reading_relation import LEAST_TRIALS, interval_95, relation_in_words
from optimiser.study import Study, Trial, load_sheet

SHEET = '[study]\nname = "made-up"\n[settings.gain]\nkind = "knob"\nscale = "clock"\nlow = "8:00"\nhigh = "15:00"\n'


def trials_of(pairs: Sequence[tuple[float, float]]) -> list[Trial]:
    return [Trial({"gain": 9.0}, reading=reading, match=match) for reading, match in pairs]


@given(st.lists(st.tuples(st.integers(0, 10), st.integers(0, 100)), min_size=LEAST_TRIALS, max_size=40))
def test_the_correlation_is_spearmans_ties_included(pairs: list[tuple[int, int]]) -> None:
    """By its definition: the ordinary correlation of ranks, ties at their mean rank."""
    readings, matches = np.array(pairs, dtype=float).T
    (relation,) = reading_relation(trials_of([(float(one), float(other)) for one, other in pairs]))
    if np.ptp(readings) == 0 or np.ptp(matches) == 0:
        assert relation.verdict == "no spread"
        assert relation.correlation is None
        return
    assert relation.correlation == pytest.approx(np.corrcoef(stats.rankdata(readings), stats.rankdata(matches))[0, 1])
    assert relation.low is not None
    assert relation.high is not None
    found = relation.correlation or 0.0
    assert -1.0 <= relation.low <= found <= relation.high <= 1.0


def test_the_interval_is_the_published_one() -> None:
    """r = 0.5, n = 20: standard error sqrt(1.125 / 17) = 0.25725 about atanh 0.5 = 0.54931, worked out by hand."""
    assert interval_95(0.5, 20) == pytest.approx((math.tanh(0.045099), math.tanh(1.053513)), abs=1e-5)


@pytest.mark.parametrize("count", [6, 12, 30])
@pytest.mark.parametrize("pearson", [0.0, 0.6, -0.8])
def test_the_interval_holds_the_true_correlation_about_95_times_in_100(count: int, pearson: float) -> None:
    """Of normal pairs the true rank correlation is 6 / pi asin(r / 2) (closed form)."""
    true, rng, pairs = 6.0 / math.pi * math.asin(pearson / 2.0), np.random.default_rng(4), 1500
    held = 0
    for _ in range(pairs):
        one = rng.normal(size=count)
        other = pearson * one + math.sqrt(1 - pearson**2) * rng.normal(size=count)
        low, high = interval_95(float(stats.spearmanr(one, other).statistic), count)
        held += low <= true <= high
    assert 0.925 < held / pairs < 0.99


def test_a_full_agreement_of_six_is_not_certain() -> None:
    (relation,) = reading_relation(trials_of([(float(place), 10.0 * place) for place in range(6)]))
    assert relation.correlation == pytest.approx(1.0)
    assert relation.low is not None
    assert 0.5 < relation.low < 0.9
    assert relation.verdict == "rise together"


def test_five_trials_are_too_few() -> None:
    (relation,) = reading_relation(trials_of([(float(place), 10.0 * place) for place in range(5)]))
    assert (relation.trials, relation.correlation, relation.verdict) == (5, None, "too few")
    assert relation_in_words(relation) == "too few trials (5 of 6)"


def test_failed_runs_and_trials_without_a_reading_say_nothing() -> None:
    pairs = trials_of([(float(place), 10.0 * place) for place in range(7)])
    others = [Trial({"gain": 9.0}, reading=9.0, match=0.0, state="void"), Trial({"gain": 9.0}, match=0.0)]
    assert reading_relation([*pairs, *others]) == reading_relation(pairs)
    assert reading_relation(others) == ()


def test_a_score_that_comes_from_the_readings_is_not_held_against_them() -> None:
    sheet = load_sheet(SHEET + "[reading]\n")
    alone = Study(sheet, tuple(Trial({"gain": 9.0}, reading=5.0 + place / 10) for place in range(8)))
    assert alone.overall(alone.trials[0]) is not None
    assert study_relation(alone) == ()


def test_the_overall_score_is_the_one_that_the_study_works_out() -> None:
    sheet = load_sheet(SHEET + "[overall]\nmatch = 1.0\ngoal = 0.0\narticulation = 0.0\n")
    study = Study(sheet, tuple(trials_of([(float(p), 80.0 - p**2) for p in range(8)])))
    match, overall = study_relation(study)
    assert (match.figure, overall.figure) == ("match", "overall")
    assert match.correlation == overall.correlation == pytest.approx(-1.0)
    assert overall.verdict == "opposed"


def test_the_report_shows_it_with_the_number_of_trials(standing: Standing) -> None:
    page = build_report(standing.state, standing=standing, views={})
    assert "The device reading against the scores" in page
    assert RELATION_NOTE in page
    for relation in study_relation(standing.study):
        assert relation_in_words(relation) in page
