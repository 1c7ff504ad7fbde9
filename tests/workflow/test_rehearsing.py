"""A rehearsed hunt goes through the same steps as a real one, and can be walked on."""

from pathlib import Path

import pytest

from optimiser.errors import BadUse
from optimiser.study import Trial
from optimiser.workflow import rehearse
from optimiser.workflow.rehearsing import highest_in_words


def test_a_rehearsal_measures_its_own_reel_and_walks_on_where_it_stopped(tmp_path: Path) -> None:
    told: list[str] = []
    first = rehearse(tmp_path, 1, 4, told.append)
    assert first["trials"][0]["warnings"] == []
    assert first["trials"][0]["reading"] is not None
    assert Path(first["files"][0]).read_text().startswith("<!")
    assert first["true_best"] > first["true_kept"] > 0
    second = rehearse(tmp_path, 2, 4, told.append)
    assert second["trials"][0] == first["trials"][0]
    assert [trial["trial"] for trial in second["trials"]] == [1, 2]
    assert all(trial["overall"] > 0 for trial in second["trials"])
    assert told[1].startswith("trial 1 of 1: overall ")
    assert told[1].endswith(" (highest so far)")
    with pytest.raises(BadUse, match="seed 4"):
        rehearse(tmp_path, 3, 5, told.append)


def test_the_highest_is_told_with_the_figure_that_makes_it_so() -> None:
    trial = Trial({"gain": 13.0}, number=14, overall=61.1)
    assert highest_in_words((trial, 61.12), 14, 61.1) == " (highest so far)"
    assert highest_in_words((trial, 63.7), 14, 61.1) == " (highest: 63.7 with its day taken off)"
    assert highest_in_words((trial, 63.7), 15, 70.0) == highest_in_words(None, 1, 70.0) == ""
