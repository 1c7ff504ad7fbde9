import pytest

from optimiser.review import CAUTIONS, exposure_sentence


@pytest.mark.parametrize(
    ("level_dba", "allowed"),
    [(85, "8 h"), (88, "4 h"), (91, "2 h"), (94, "1 h"), (97, "30 min"), (100, "15 min")],
)
def test_hearing_exposure(level_dba: float, allowed: str) -> None:
    """NIOSH publication 98-126, table 1-1."""
    assert f"the recommended limit is {allowed} a day" in exposure_sentence(level_dba)


@pytest.mark.parametrize(
    "word", ["licensed", "several hundred volts", "without its load", "speaker", "ribbon", "85 dBA"]
)
def test_what_can_hurt_is_named(word: str) -> None:
    assert any(word in caution for caution in CAUTIONS)
