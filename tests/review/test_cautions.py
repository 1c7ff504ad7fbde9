import pytest

from optimiser.errors import BadUse
from optimiser.review import CAUTIONS, exposure_sentence


@pytest.mark.parametrize(
    ("level_dba", "allowed"),
    [(85, "8 h"), (88, "4 h"), (91, "2 h"), (94, "1 h"), (97, "30 min"), (100, "15 min")],
)
def test_hearing_exposure(level_dba: float, allowed: str) -> None:
    """NIOSH publication 98-126, table 1-1."""
    assert f"the recommended limit is {allowed} a day" in exposure_sentence(level_dba)


@pytest.mark.parametrize(("level_dba", "limit"), [(0, "not reached in a day"), (79, "not reached"), (140, "under 1 s")])
def test_the_ends_of_the_published_table(level_dba: float, limit: str) -> None:
    """The same table: 25 h 24 min at 80 dBA, less than a second from 130 to 140 dBA, above which nobody may be."""
    assert limit in exposure_sentence(level_dba)


@pytest.mark.parametrize("level_dba", [-5, 140.1, 200, float("nan"), float("inf")])
def test_no_room_is_quieter_than_hearing_or_louder_than_the_ceiling(level_dba: float) -> None:
    with pytest.raises(BadUse, match="No room has a level") as told:
        exposure_sentence(level_dba)
    assert "0 (hardly heard) to 140 (never to be passed" in told.value.hint


@pytest.mark.parametrize(
    "word", ["licensed", "several hundred volts", "without its load", "speaker", "ribbon", "85 dBA"]
)
def test_what_can_hurt_is_named(word: str) -> None:
    assert any(word in caution for caution in CAUTIONS)
