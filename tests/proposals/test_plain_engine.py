"""scikit-optimize behind its one module: a contract that any version of it has to keep."""

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import asdict, replace

import pytest

from optimiser.errors import NothingLeft
from optimiser.proposals import propose
from optimiser.study import Study, Trial, load_sheet

Hunt = Callable[..., Study]


def _plain(study: Study) -> Study:
    return replace(study, sheet=replace(study.sheet, policy=replace(study.sheet.policy, engine="plain")))


@pytest.mark.parametrize("trials", [0, 2, 7])
@pytest.mark.parametrize("hunt", ["job", "choosy"])
def test_proposals_fit_the_sheet_and_are_plain_values(hunt: str, trials: int, request: pytest.FixtureRequest) -> None:
    study = _plain(request.getfixturevalue(hunt)(trials))
    for proposal in propose(study, count=2):
        assert study.sheet.space.allows(proposal.settings)
        assert json.loads(json.dumps(asdict(proposal))) == asdict(proposal)
        assert proposal.kind in ("first design", "search")


def test_same_study_same_proposal(job: Hunt) -> None:
    study = _plain(job(7))
    assert propose(study) == propose(study)


def test_it_searches_once_the_first_design_is_made(job: Hunt) -> None:
    assert propose(_plain(job(5)))[0].kind == "first design"
    assert propose(_plain(job(6)))[0].kind == "search"


def test_locks_and_what_waits_are_kept(job: Hunt) -> None:
    study = _plain(job(6))
    first = propose(study, locked={"mic": "far"})[0].settings
    assert first["mic"] == "far"
    waiting = study.with_trial(Trial(first, state="waiting"))
    assert propose(waiting, locked={"mic": "far"})[0].settings != first


def test_nothing_left_is_said() -> None:
    study = Study(load_sheet('[study]\nname = "s"\n[settings.stage]\nkind = "stage"\nsteps = ["a", "b"]'))
    for step in ("a", "b"):
        study = study.with_trial(Trial({"stage": step}, state="declined"))
    with pytest.raises(NothingLeft):
        propose(_plain(study))


def test_it_is_imported_only_when_chosen() -> None:
    """Nor is anything else that takes long to import."""
    slow = "('skopt', 'sklearn', 'scipy.stats', 'scipy.signal')"
    code = f"import sys, optimiser.proposals; print([name for name in {slow} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
