"""Old notes come in from a table, whole or not at all, and never twice."""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from optimiser.workflow.known_notes import FIGURES
from optimiser.workflow.notes import OTHERS

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


GAIN = ("--column", "gain=Vol")
DATED = NOTES.replace("failed,day", "failed,Date")
OTHER_COLUMNS = """\
Date;overall;riffs;mic;failed;stage;Weather;NOTE;reading;Vol
2026-03-02;62,50;chugs,held chord,run,two-note;cap;;pushed;rain;loud;7,0;1:00
2026-03-02;41,0;run,chugs,held chord,two-note;rim;;full;sun;;4,50;3:30
2026-03-03;;run,chugs,held chord,two-note;cap edge;yes;open;;hum;;2:00
"""


def test_the_same_rows_are_known_in_another_order_and_format_and_with_fewer_columns(ask: Ask, notes: Path) -> None:
    notes.write_text(DATED)
    assert ask("import-notes", "club-amp", notes, *GAIN, "--column", "day=Date")["trials"] == [1, 2, 3]
    before = ask("history", "club-amp")["events"]
    for text, words in (
        (OTHER_COLUMNS, ("--column", "day=Date")),
        (OTHER_COLUMNS, ()),
        (DATED.replace("\n", "\r\n"), ()),
        (DATED.replace("\n", "\r"), ("--column", "day=Date")),
        (DATED.replace("rain", "snow").replace("62.5", "62.500").replace("1:00", "13:00"), ("--column", "day=Date")),
    ):
        notes.write_text(text, newline="")
        again = ask("import-notes", "club-amp", notes, *GAIN, *words)
        assert (again["trials"], again["known"], again["restored"]) == ([], 3, [])
    assert ask("history", "club-amp")["events"] == before


@pytest.mark.parametrize(
    ("first", "then", "told"),
    [
        ((), ("--column", "day=Date"), "day"),
        (("--column", "note=Weather"), ("--column", "note=note"), "note"),
        (("--column", "overall=Reading", "--column", "reading=overall"), (), "overall and reading"),
    ],
)
def test_rows_that_say_something_else_now_are_refused_and_come_in_once_they_are_taken_back(
    ask: Ask, notes: Path, first: tuple[str, ...], then: tuple[str, ...], told: str
) -> None:
    """A column was forgotten or taken for another one; a new row in the same table waits with the others."""
    text = DATED.replace("62.5", "6.5").replace(",41,", ",4.1,")
    notes.write_text(text)
    wrong = ask("import-notes", "club-amp", notes, *GAIN, *first)
    notes.write_text(text.rstrip() + '\n12:00,open,cap,"chugs,held chord,run,two-note",7,5,,,,2026-03-04\n')
    before = ask("history", "club-amp")["events"]
    error = ask("import-notes", "club-amp", notes, *GAIN, *then, code=2)["error"]
    assert "in already, as trial" in error["message"]
    assert error["message"].endswith(f"with another {told} or none.")
    assert "Nothing was taken in. Take them back with optimiser undo club-amp" in error["hint"]
    assert ask("history", "club-amp")["events"] == before

    assert ask("undo", "club-amp")["trials"] == wrong["trials"]
    ask("import-notes", "club-amp", notes, *GAIN, *then)
    counting = [trial for trial in ask("review", "club-amp")["trials"] if trial["state"] != "void"]
    said = {(trial["note"], trial["overall"], trial["reading"]) for trial in counting}
    assert said == {("loud", 6.5, 7.0), ("", 4.1, 4.5), ("hum", None, None), ("", 5.0, 7.0)}
    assert len(counting) == 4
    if told == "day":
        assert {trial["day"] for trial in counting} == {"2026-03-02", "2026-03-03", "2026-03-04"}
    assert ask("import-notes", "club-amp", notes, *GAIN, *then)["known"] == 4


def test_once_another_step_came_between_rows_are_put_right_one_by_one(ask: Ask, notes: Path) -> None:
    notes.write_text(DATED)
    ask("import-notes", "club-amp", notes, *GAIN)
    ask("amend", "club-amp", 1, "--reading", 6)
    error = ask("import-notes", "club-amp", notes, *GAIN, "--column", "day=Date", code=2)["error"]
    assert error["message"] == "3 lines are in already, as trials 1 to 3, with another day or none."
    assert "optimiser amend club-amp TRIAL puts one right" in error["hint"]


def test_equal_rows_of_one_table_are_repeats_and_each_is_known_once(ask: Ask, notes: Path) -> None:
    head, row, *_ = DATED.splitlines(keepends=True)
    words = ("import-notes", "club-amp", notes, *GAIN, "--column", "day=Date")
    notes.write_text(head + row + row)
    assert ask(*words)["trials"] == [1, 2]
    notes.write_text(head + row + row.replace("62.5", "62.50") + row)
    assert (ask(*words)["trials"], ask(*words)["known"]) == ([3], 3)


def test_rows_of_an_older_store_are_known_by_the_trials_that_they_became(
    ask: Ask, notes: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Older stores kept neither the line nor which columns it told."""
    notes.write_text(DATED)
    ask("import-notes", "club-amp", notes, *GAIN)
    ask("export", "club-amp", tmp_path / "study.json")
    document = json.loads((tmp_path / "study.json").read_text())
    for event in document["events"]:
        for entry in ("told", "source"):
            event["body"].get("details", {}).pop(entry, None)
    (tmp_path / "study.json").write_text(json.dumps(document))
    monkeypatch.setenv("OPTIMISER_STORE", f"sqlite:///{tmp_path / 'older.db'}")
    ask("import-study", tmp_path / "study.json")
    notes.write_text(OTHER_COLUMNS)
    assert ask("import-notes", "club-amp", notes, *GAIN)["known"] == 3
    error = ask("import-notes", "club-amp", notes, *GAIN, "--column", "day=Date", code=2)["error"]
    assert error["message"] == "3 lines are in already, as trials 1 to 3, with another day or none."
    notes.write_text(OTHER_COLUMNS.replace("41,0", "42,0"))
    assert ask("import-notes", "club-amp", notes, *GAIN)["trials"] == [4], "another score is another run"


def test_the_help_lists_every_name_that_a_column_may_have(say: Say) -> None:
    said = say("import-notes", "--help").split("--column")[1].split("--store")[0]
    assert {*FIGURES, *OTHERS, "setting", "mic.radial_mm"} <= set(re.findall(r"[\w.]+", said))


def test_an_empty_table_takes_nothing_in(ask: Ask, notes: Path) -> None:
    notes.write_text("")
    assert ask("import-notes", "club-amp", notes)["trials"] == []
