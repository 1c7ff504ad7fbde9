"""A rehearsed hunt goes through the same steps as a real one, and can be walked on."""

from pathlib import Path

import pytest

from optimiser.errors import BadUse
from optimiser.workflow import rehearse


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
    with pytest.raises(BadUse, match="seed 4"):
        rehearse(tmp_path, 3, 5, told.append)
