"""The rehearsal amp as a problem: every trial is a real take, measured; the truth is the same take without errors."""

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final

from optimiser.rehearsal import BEST_OVERALL
from optimiser.study import Trial
from tests.benchmarks.problems import Problem
from tests.benchmarks.survey_rehearsal import FOLDER as SURVEY
from tests.benchmarks.survey_rehearsal import Bench, Survey

TRUTHS: Final = "rehearsal-truths.jsonl"


@cache
def rehearsal(folder: Path) -> Problem:
    """The rehearsal amp on one day; truths are kept in `folder`, since each takes seconds.

    Optimum and mean of random settings are those of the survey in studies/rehearsal-amp.
    """
    bench = Bench()
    survey = Survey(bench, folder / TRUTHS)

    def truth(settings: Mapping[str, Any]) -> float:
        return float(survey.visit("truth", [dict(settings)])[0]["overall"])

    def trial(settings: Mapping[str, Any], seed: int) -> Trial:
        took = bench.measured(dict(settings), seed=seed, exact=False)
        figures = {name: took[name] for name in ("match", "goal", "articulation_kept", "reading")}
        return Trial(dict(settings), **figures)

    summary = json.loads((SURVEY / "summary.json").read_text(encoding="utf-8"))
    return Problem("rehearsal", bench.amp.sheet, truth, trial, BEST_OVERALL, summary["random_mean"])
