"""Old notes come in from a table, whole or not at all, and never twice."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Ask = Callable[..., Any]
Say = Callable[..., str]

NOTES = """\
Vol,stage,mic,riffs,Reading,overall,note,Weather,failed,day
1:00,pushed,cap,"chugs,held chord,run,two-note",7,62.5,loud,rain,,2026-03-02
3:30,full,rim,"run,chugs,held chord,two-note",4.5,41,,sun,,2026-03-02
2:00,open,cap edge,"run,chugs,held chord,two-note",,,hum,,yes,2026-03-03

"""


@pytest.fixture
def notes(sheet: Path, ask: Ask, tmp_path: Path) -> Path:
    ask("start", sheet)
    path = tmp_path / "notes.csv"
    path.write_text(NOTES)
    return path


def test_every_row_becomes_a_trial_and_what_is_left_out_is_said(ask: Ask, notes: Path) -> None:
    taken = ask("import-notes", "club-amp", notes, "--column", "gain=Vol")
    assert (taken["trials"], taken["known"], taken["ignored"]) == ([1, 2, 3], 0, ["Weather"])
    trials = ask("review", "club-amp")["trials"]
    assert [trial["state"] for trial in trials] == ["measured", "measured", "failed"]
    assert [trial["settings"]["gain"] for trial in trials] == [13.0, 15.5, 14.0]
    assert trials[0]["settings"]["riffs"] == ["chugs", "held chord", "run", "two-note"]
    assert (trials[0]["reading"], trials[0]["overall"], trials[0]["note"]) == (7.0, 62.5, "loud")
    assert [trial["day"] for trial in trials] == ["2026-03-02", "2026-03-02", "2026-03-03"]


def test_the_same_rows_again_are_left_alone_and_new_ones_are_taken(ask: Ask, notes: Path) -> None:
    words = ("import-notes", "club-amp", notes, "--column", "gain=Vol")
    ask(*words)
    twice = '12:00,open,cap,"chugs,held chord,run,two-note",7,50,,,,2026-03-04\n'
    notes.write_text(NOTES.rstrip() + "\n" + twice + twice)
    assert (ask(*words)["trials"], ask(*words)["trials"]) == ([4, 5], [])


def test_semicolons_and_decimal_commas_are_read(ask: Ask, notes: Path) -> None:
    notes.write_text("\ufeffgain;stage;mic;riffs;reading\n1:00;open;cap;chugs,held chord,run,two-note;6,5\n")
    ask("import-notes", "club-amp", notes)
    assert ask("review", "club-amp")["trials"][0]["reading"] == 6.5


def test_faulty_lines_are_all_named_and_nothing_is_taken_in(ask: Ask, notes: Path) -> None:
    bad = NOTES.replace("3:30,full", "25:99,full").replace(",4.5,", ",lots,").replace("2026-03-03", "yesterday")
    notes.write_text(bad.replace("pushed", "crushed"))
    error = ask("import-notes", "club-amp", notes, "--column", "gain=Vol", code=3)["error"]
    for words in ("line 2: stage", "line 3:", "line 4:"):
        assert words in error["message"]
    assert ask("review", "club-amp")["trials"] == []


@pytest.mark.parametrize(
    ("words", "told"),
    [(("--column", "gain=Volume"), "no column Volume"), (("--column", "speed=Vol"), "nothing that a trial")],
)
def test_a_wrong_mapping_is_said(ask: Ask, notes: Path, words: tuple[str, ...], told: str) -> None:
    assert told in ask("import-notes", "club-amp", notes, *words, code=2)["error"]["message"]


def test_a_setting_without_a_column_is_told_once_with_the_columns_that_are_left(ask: Ask, notes: Path) -> None:
    error = ask("import-notes", "club-amp", notes, code=2)["error"]
    assert error["message"] == "The table has no column for gain."
    assert error["hint"].endswith("with --column gain=THEIRS. Its columns Vol, Weather mean nothing yet.")
    notes.write_text(NOTES.split("\n", 1)[1])
    headless = ask("import-notes", "club-amp", notes, code=2)["error"]["message"]
    assert headless == "The table has no column for gain, stage, mic, riffs."
    assert ask("studies")["studies"][0]["trials"] == 0


def test_an_empty_cell_of_a_setting_is_to_be_filled_in(ask: Ask, notes: Path) -> None:
    notes.write_text(NOTES.replace("3:30,full", "3:30,"))
    message = ask("import-notes", "club-amp", notes, "--column", "gain=Vol", code=3)["error"]["message"]
    assert message == "line 3: stage is missing, expected one of open, pushed, full; fill in its cell."


def test_a_line_with_a_failure_and_a_score_says_two_things(ask: Ask, notes: Path) -> None:
    notes.write_text(NOTES.replace(",,,hum,,yes", ",,50,hum,,yes"))
    message = ask("import-notes", "club-amp", notes, "--column", "gain=Vol", code=3)["error"]["message"]
    assert message == "line 4: A run that failed has no overall. Empty that cell, or the one of failed."


def test_what_was_taken_in_is_said_in_words(say: Say, notes: Path) -> None:
    words = ("import-notes", "club-amp", notes, "--column", "gain=Vol")
    assert say(*words).startswith("3 rows taken into club-amp, as trials 1 to 3.\n")
    assert say(*words).startswith("Nothing new taken into club-amp.\n3 rows had been taken in before.\n")
    notes.write_text(NOTES + '12:00,open,cap,"chugs,held chord,run,two-note",7,50,,,,2026-03-04\n')
    assert say(*words).startswith("1 row taken into club-amp, as trial 4.\n")


def test_an_empty_table_takes_nothing_in(ask: Ask, notes: Path) -> None:
    notes.write_text("")
    assert ask("import-notes", "club-amp", notes)["trials"] == []
