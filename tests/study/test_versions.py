"""New versions of a sheet: trials stay, completed with what was fixed then, and faults say what is impossible."""

from dataclasses import replace
from typing import Any

import pytest

from optimiser.space import Settings
from optimiser.study import (
    Carried,
    Event,
    StudyState,
    Trial,
    fold,
    load_sheet,
    sheet_to_tables,
    trial_to_json,
    trials_in_words,
)

AT = "2026-03-02T10:00:00+00:00"
FIRST = """
[study]
name = "versions"
[settings.gain]
kind = "knob"
scale = "clock"
low = "9:00"
high = "15:00"
[settings.mic]
kind = "mic"
spots = [
  { name = "cap", radial_mm = 0, distance_mm = 25, angle_deg = 0 },
  { name = "edge", radial_mm = 22, distance_mm = 25, angle_deg = 0 },
]
[settings.riffs]
kind = "riff order"
riffs = ["chugs", "run", "two-note"]
[fixed]
presence = "12:00"
preamp = "clean, 38 dB"
"""
GAIN = 'scale = "clock"\nlow = "9:00"\nhigh = "15:00"'
PRESENCE = """
[settings.presence]
kind = "knob"
scale = "clock"
low = "8:00"
high = "16:00"
"""


def _made(number: int, **settings: Any) -> Event:
    usual = {"gain": 11.0 + number / 10, "mic": "cap", "riffs": ["chugs", "run", "two-note"]}
    trial = Trial({**usual, **settings}, number=number, overall=50.0 + number)
    return Event("measured", {"trial": trial_to_json(trial)}, AT)


def _changed(text: str) -> Event:
    return Event("sheet changed", {"sheet": sheet_to_tables(load_sheet(text))}, AT)


def _begun(*events: Event) -> StudyState:
    return fold([Event("started", {"sheet": sheet_to_tables(load_sheet(FIRST))}, AT), *events])


def _fault_in(over: Carried) -> str:
    (fault,) = over.faults
    return str(fault)


def test_ranges_may_be_widened_and_narrowed() -> None:
    for low in ("8:00", "11:06"):
        state = _begun(_made(1), _made(2), _changed(FIRST.replace("9:00", low)))
        assert [trial.settings["gain"] for trial in state.study.trials] == [11.1, 11.2]
        assert len(state.study.in_state("measured")) == 2
    assert state.sheet.space.outside(state.study.trial(1).settings) == ()


def test_a_spot_a_riff_and_an_option_may_be_added() -> None:
    rim = '{ name = "rim", radial_mm = 90, distance_mm = 40, angle_deg = 30 }'
    more = FIRST.replace("]\n[settings.riffs]", f"{rim} ]\n[settings.riffs]")
    more = more.replace('"two-note"]', '"two-note", "held chord"]')
    state = _begun(_made(1), _made(2, mic="edge"))
    assert state.carried_to(load_sheet(more)).faults == ()
    study = state.after(_changed(more)).study
    assert study.trial(2).settings == {"gain": 11.2, "mic": "edge", "riffs": ["chugs", "run", "two-note"]}
    assert study.sheet.space.outside(study.trial(1).settings) == ("riffs",)


def test_a_new_setting_is_completed_with_what_was_fixed_when_each_trial_was_made() -> None:
    turned = FIRST.replace('presence = "12:00"', 'presence = "1:30"')
    state = _begun(_made(1), _made(2), _changed(turned), _made(3), _changed(turned + PRESENCE))
    assert [trial.settings["presence"] for trial in state.study.trials] == [12.0, 12.0, 13.5]
    assert [trial.overall for trial in state.study.trials] == [51.0, 52.0, 53.0]


def test_what_was_fixed_nowhere_is_asked_for() -> None:
    bare = FIRST.replace('presence = "12:00"', "")
    state = _begun(_changed(bare), _made(1), _made(2), _made(4))
    told = _fault_in(state.carried_to(load_sheet(bare + PRESENCE)))
    assert "trials 1, 2 and 4" in told
    assert "[before]" in told
    said = bare + PRESENCE + '[before]\npresence = "2:00"\n'
    assert state.carried_to(load_sheet(said)).faults == ()
    assert {trial.settings["presence"] for trial in state.after(_changed(said)).study.trials} == {14.0}
    assert load_sheet(said).before == {"presence": 14.0}


def test_a_setting_that_exists_under_a_condition_is_completed_only_there() -> None:
    knob = 'kind = "knob"\nlow = -12\nhigh = 0\nonly_when = { mic = ["edge"] }'
    blend = f"{FIRST}[settings.blend]\n{knob}\n[before]\nblend = -3\n"
    study = _begun(_made(1), _made(2, mic="edge"), _changed(blend)).study
    assert "blend" not in study.trial(1).settings
    assert study.trial(2).settings["blend"] == -3.0


def test_spots_with_coordinates_become_free_places() -> None:
    free = FIRST.split("[settings.mic]", maxsplit=1)[0] + (
        '[settings.mic]\nkind = "mic"\nfree = true\nradial_mm = [0, 80]\ndistance_mm = [10, 200]\nangle_deg = [0, 45]\n'
        '[settings.riffs]\nkind = "riff order"\nriffs = ["chugs", "run", "two-note"]\n'
    )
    study = _begun(_made(1, mic="edge"), _changed(free)).study
    assert study.trial(1).settings["mic"] == {"radial_mm": 22.0, "distance_mm": 25.0, "angle_deg": 0.0}


def test_a_setting_in_which_no_trial_differs_may_go_and_one_in_which_they_do_may_not() -> None:
    without = FIRST.replace(FIRST[FIRST.index("[settings.mic]") : FIRST.index("[settings.riffs]")], "")
    alike = _begun(_made(1), _made(2))
    assert alike.carried_to(load_sheet(without)).dropped == ("mic",)
    assert "mic" not in alike.after(_changed(without)).study.trial(1).settings
    told = _fault_in(_begun(_made(1), _made(2, mic="edge"), _made(3)).carried_to(load_sheet(without)))
    assert "trials 1 and 3 at cap; trial 2 at edge" in told
    assert "narrow it" in told


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('name = "edge"', 'name = "rim"', "trial 2 at edge"),
        ('"run", "two-note"]', '"two-note"]', "trials 1 to 3 at chugs, run, two-note"),
        (
            GAIN,
            "low = 0\nhigh = 10",
            "trials 1 to 3 are told as clock times",
        ),
        (
            f'kind = "knob"\n{GAIN}',
            'kind = "stage"\nsteps = ["a", "b"]',
            "clock times",
        ),
    ],
)
def test_what_cannot_be_says_which_trials_stand_in_the_way_and_what_to_do(old: str, new: str, told: str) -> None:
    state = _begun(_made(1), _made(2, mic="edge"), _made(3))
    assert old in FIRST
    fault = _fault_in(state.carried_to(load_sheet(FIRST.replace(old, new))))
    assert told in fault
    assert "keep what trials were made with" in fault or "another name" in fault


def test_a_version_goes_back_and_forth_without_loss() -> None:
    state = _begun(_made(1), _made(2))
    there = state.after(_changed(FIRST + PRESENCE))
    back = there.after(_changed(FIRST))
    assert {n: dict(trial.settings) for n, trial in back.trials.items()} == {
        n: dict(trial.settings) for n, trial in state.trials.items()
    }
    assert back.study == state.study


def test_struck_out_trials_are_carried_too() -> None:
    state = _begun(_made(1), _made(2), Event("voided", {"trial": 2}, AT), _changed(FIRST + PRESENCE))
    let_back = state.after(Event("restored", {"trial": 2}, AT))
    assert let_back.study.trial(2).settings["presence"] == 12.0


@pytest.mark.parametrize("kind", ["voided", "declined"])
def test_what_counts_for_nothing_stands_in_the_way_of_no_version_unless_it_would_be_misread(kind: str) -> None:
    """A riff and a whole setting may go, and their values are there again with the sheet that knows them."""
    of = {"riffs": ["run", "two-note", "chugs"], "mic": "edge"}
    state = _begun(_made(1, riffs=["run", "two-note"]), _made(2, **of), Event(kind, {"trial": 2}, AT))
    mic = FIRST[FIRST.index("[settings.mic]") : FIRST.index("[settings.riffs]")]
    bare = FIRST.replace(mic, "").replace('"chugs", "run", "two-note"', '"run", "two-note"')
    over = state.carried_to(load_sheet(bare))
    assert (over.faults, over.needless, over.dropped) == ((), {}, ("mic",))
    without = state.after(_changed(bare))
    assert without.study.trial(2).settings == {"gain": 11.2}
    again = without.after(_changed(FIRST + "[before]\nmic = 'cap'\n")).study.trial(2).settings
    assert again["riffs"] == of["riffs"]
    assert again["mic"] == ("edge" if kind == "voided" else "cap"), "what is put aside is nobody's memory"
    misread = state.carried_to(load_sheet(FIRST.replace(GAIN, "low = 0\nhigh = 20")))
    assert "trials 1 and 2 are told as clock times" in _fault_in(misread)


def test_a_proposal_that_cannot_be_made_under_a_version_is_needless_to_it() -> None:
    waits = {"trial": 2, "settings": {"gain": 11.0, "mic": "edge", "riffs": ["chugs", "run", "two-note"]}}
    state = _begun(_made(1), Event("proposed", {"proposal": waits}, AT))
    over = state.carried_to(load_sheet(FIRST.replace('name = "edge"', 'name = "rim"')))
    assert (over.faults, list(over.needless)) == ((), [2])
    assert over.needless[2] == "the sheet no longer fits it: mic at edge"


def test_the_completed_trials_are_used_by_the_belief() -> None:
    """A new setting has been seen at one value only: trials at it keep their scores, and others are open."""
    state = _begun(*(_made(number) for number in range(1, 6)), _changed(FIRST + PRESENCE))
    study = replace(state.study, trials=state.study.trials)
    settings: Settings = {**study.trial(3).settings, "presence": 12.0}
    assert study.sheet.space.allows(settings)
    assert [study.overall(trial) for trial in study.trials] == [(50.0 + number, 0.0) for number in range(1, 6)]


@pytest.mark.parametrize(
    ("numbers", "said"),
    [
        ((3,), "trial 3"),
        ((1, 2), "trials 1 and 2"),
        ((1, 2, 3, 7), "trials 1 to 3 and 7"),
        ((1, 3, 5), "trials 1, 3 and 5"),
    ],
)
def test_numbers_are_said_as_people_do(numbers: tuple[int, ...], said: str) -> None:
    assert trials_in_words(numbers) == said
