"""What a user can rely on when a study sheet is read, printed and wrong."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.errors import MOST_QUOTED, SheetError, as_written
from optimiser.scoring import PartWeights
from optimiser.space import OneOf, RiffOrder, Rule
from optimiser.study import StudySheet, load_sheet, sheet_from_tables, sheet_to_tables, write_sheet

FULL = """
[study]
name = "club-amp-lead"
title = "Club amp, lead side"
timezone = "Europe/Lisbon"
minutes_per_trial = 4.5
trials_planned = 15

[settings.gain]
kind = "knob"
scale = "clock"
low = "8:00"
high = "17:00"
tolerance = "0:10"
effort_minutes = 0.2

[settings.stage]
kind = "stage"
steps = ["open", "pushed", "full"]

[settings.mic]
kind = "mic"
spots = [
    { name = "cap", radial_mm = 0, distance_mm = 25, angle_deg = 0, note = "ribbon" },
    { name = "rim", radial_mm = 90, distance_mm = 40, angle_deg = 30 },
]

[settings.room]
kind = "mic"
free = true
radial_mm = [0, 100]
distance_mm = [100, 900]
angle_deg = [0, 60]
only_when = { cabinet = ["A and B"], blend = { above = -9 } }

[settings.riffs]
kind = "riff order"
riffs = ["chugs", "held chord", "run", "two-note"]
use = 3

[settings.cabinet]
kind = "choice"
options = [{ name = "A", inches = 12 }, { name = "B", inches = 10 }, { name = "A and B", inches = 11 }]

[settings.blend]
kind = "knob"
unit = "dB"
low = -12
high = 0
only_when = { cabinet = ["A and B"] }

[[never]]
stage = ["full"]
gain = { above = "15:00", below = "16:20" }

[[never]]
riffs = { first = ["run"], last = ["chugs"] }
room = { radial_mm = { above = 80 } }

[reading]
wanted = [6, 8]

[overall]
ear = 0.25

[match.weights]
tone = 0.8
dynamics = 1.5
attack = 1
residual = 0
texture = 2.25
decay = 0.5
noise = 1.5

[search]
engine = "plain"
first_trials = 6

[fixed]
preamp = "clean, 38 dB"
takes = 2
"""
SMALL = '[study]\nname = "a"\n[settings.gain]\nkind = "knob"\nlow = 0\nhigh = 10\n'
WEIGHTS = "[match.weights]\n" + "".join(
    f"{part} = 1\n" for part in ("tone", "dynamics", "attack", "residual", "texture", "decay", "noise")
)


def faults_of(text: str) -> list[tuple[str, str]]:
    with pytest.raises(SheetError) as caught:
        load_sheet(text)
    assert all(fault.found and fault.expected and fault.mend for fault in caught.value.faults)
    assert len(str(caught.value).splitlines()) == len(caught.value.faults)
    return [(fault.table, fault.key) for fault in caught.value.faults]


@pytest.mark.parametrize("text", [FULL, SMALL])
def test_reading_what_was_printed_changes_nothing(text: str) -> None:
    sheet = load_sheet(text)
    assert load_sheet(write_sheet(sheet)) == sheet
    assert sheet_from_tables(sheet_to_tables(sheet)) == sheet


def test_defaults_are_sensible() -> None:
    sheet = load_sheet(SMALL)
    assert (sheet.minutes_per_trial, sheet.trials_planned, sheet.timezone) == (5.0, 20, "UTC")
    assert sheet.reading is None
    assert (sheet.overall.match, sheet.overall.goal, sheet.overall.articulation, sheet.overall.ear) == (1, 1, 0.5, 0)
    assert sheet.policy.engine == "own"
    assert sheet.match_weights is None
    assert "match" not in sheet_to_tables(sheet)


def test_what_a_full_sheet_says_is_understood() -> None:
    sheet = load_sheet(FULL)
    settings = sheet.space.by_name
    assert isinstance(settings["riffs"], RiffOrder)
    assert settings["riffs"].use == 3
    assert settings["blend"].only_when == Rule((("cabinet", OneOf(("A and B",))),))
    assert sheet.reading is not None
    assert (sheet.reading.wanted, sheet.reading.redo_below) == ((6.0, 8.0), 5.0)
    assert sheet.match_weights == PartWeights(0.8, 1.5, 1.0, 0.0, 2.25, 0.5, 1.5)
    assert sheet.fixed == {"preamp": "clean, 38 dB", "takes": "2"}


def test_every_fault_is_named_at_once() -> None:
    wrong = (
        FULL.replace('low = "8:00"', 'low = "18:00"')
        .replace("minutes_per_trial", "minute_per_trial")
        .replace("use = 3", "use = 9")
        .replace('stage = ["full"]', 'stage = ["fulll"]')
        .replace("wanted = [6, 8]", "wanted = [8, 6]")
        .replace('"Europe/Lisbon"', '"Europe/Lisbonne"')
    )
    assert set(faults_of(wrong)) >= {
        ("study", "minute_per_trial"),
        ("study", "timezone"),
        ("settings.gain", "low"),
        ("settings.riffs", "use"),
        ("reading", "wanted"),
    }


@pytest.mark.parametrize(
    ("text", "table", "key"),
    [
        ("", "study", ""),
        ("name = 3", "", "name"),
        ("[study\nname", "", "the sheet"),
        (SMALL.replace('"a"', '"a b"'), "study", "name"),
        (SMALL.replace('"knob"', '"dial"'), "settings.gain", "kind"),
        (SMALL.replace("high = 10", "high = -1"), "settings.gain", "low"),
        (SMALL.replace("high = 10", "high = nan"), "settings.gain", "high"),
        (SMALL.replace("high = 10", "high = 10\ntolerance = -1"), "settings.gain", "tolerance"),
        (SMALL.replace("high = 10", "high = 10\nonly_when = { stage = ['x'] }"), "settings.gain.only_when", "stage"),
        (SMALL + "[settings.stage]\nkind = 'stage'\nsteps = ['one']\n", "settings.stage", "steps"),
        (SMALL + "[settings.mic]\nkind = 'mic'\nspots = ['a', 'A']\n", "settings.mic", "spots"),
        (
            SMALL + "[settings.mic]\nkind = 'mic'\nspots = [{name='a', radial_mm=1}, 'b']\n",
            "settings.mic.spots",
            "distance_mm",
        ),
        (SMALL + "[overall]\nmatch = 0\ngoal = 0\narticulation = 0\n", "overall", ""),
        (SMALL + "[match]\n", "match.weights", "tone"),
        (SMALL + "[match.weight]\ntone = 1\n", "match", "weight"),
        (SMALL + WEIGHTS.replace("attack = 1", "attack = -1"), "match.weights", "attack"),
        (SMALL + WEIGHTS.replace("attack = 1", "attack = nan"), "match.weights", "attack"),
        (SMALL + WEIGHTS.replace("attack = 1", ""), "match.weights", "attack"),
        (SMALL + WEIGHTS.replace("attack", "punch"), "match.weights", "punch"),
        (SMALL + WEIGHTS.replace("= 1", "= 0"), "match.weights", ""),
        (SMALL + "[search]\nengine = 'warp'\n", "search", "engine"),
        (SMALL + "[search]\neffort_weight = 1.5\n", "search", "effort_weight"),
        (SMALL + "[reading]\nwanted = [1, 2]\n", "reading", "wanted"),
        (SMALL + "never = 3\n", "settings.gain", "never"),
    ],
)
def test_a_wrong_sheet_is_refused_with_place_and_mend(text: str, table: str, key: str) -> None:
    assert (table, key) in faults_of(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[study]\nname = "a"\n', "[settings]: found no setting, expected at least one table"),
        ('[study]\nname = "a"\n[[settings]]\nkind = "knob"\n', '[settings]: found [{ kind = "knob" }], expected'),
        (SMALL.replace("high = 10\n", ""), "[settings.gain] high is missing, expected a number"),
        (SMALL.replace("10", "inf"), "[settings.gain] high: found inf, expected a finite number"),
        (
            SMALL + "[never]\ngain = { above = 3 }\n",
            "[never]: found { gain = { above = 3 } }, expected a list",
        ),
        (SMALL + "[[never]]\ngain = { over = 3 }\n", "[never] gain: found { over = 3 }, expected above, below or both"),
        (SMALL + "[[never]]\n", "[never]: found no condition, expected at least one"),
        (SMALL + "[fixed]\nbias = true\n", "[fixed] bias: found true, expected a text or a number"),
        (SMALL + "[fixed]\nmade = 2026-03-02\n", "[fixed] made: found 2026-03-02, expected a text or a number"),
        (SMALL + '[fixed]\ncable = ["a", 3.5]\n', '[fixed] cable: found ["a", 3.5], expected a text or a number'),
        (
            SMALL + '[goal]\nstage = "open"\n',
            "[goal] stage: found a setting that the sheet lacks, expected one of",
        ),
        (SMALL + "only_when = { gain = { above = 3 } }\n", "gain: found a name that no other setting has"),
        (SMALL + "[overall]\nears = 2\n", "ears: found an entry that means nothing here, expected one of articulation"),
        (SMALL + "[reading]\nwanted = 6\n", "expected two rising numbers; write them as in wanted = [6, 8]."),
        (SMALL + "[match]\nweights = 3\n", "[match.weights]: found 3, expected a table"),
        (SMALL + "[search]\nengine = 'warp'\n", '[search] engine: found "warp", expected one of "own", "plain"'),
    ],
)
def test_one_fault_is_one_line_in_words_of_the_sheet(text: str, said: str) -> None:
    with pytest.raises(SheetError) as caught:
        load_sheet(text)
    assert said in str(caught.value)
    assert len(caught.value.faults) == 1


toml_values = st.recursive(
    st.booleans() | st.integers(-(2**63), 2**63 - 1) | st.floats(allow_nan=False) | st.text(max_size=8) | st.dates(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=2),
    max_leaves=4,
)


@given(value=toml_values)
def test_what_was_found_is_told_as_the_sheet_says_it(value: object) -> None:
    """Python's own reader of TOML reads the same again, unless it was too long to be told whole."""
    told = as_written(value)
    assert "\n" not in told
    assert len(told) <= MOST_QUOTED
    if "..." not in told:
        assert tomllib.loads(f"found = {told}") == {"found": value}


@pytest.mark.parametrize("number", ["9" * 400, "9" * 5000, f"0x{'f' * 6000}", "[" * 5000, f"[{'9' * 400}]"])
def test_numbers_without_end_and_lists_without_bottom_are_faults(number: str) -> None:
    clock = SMALL.replace('"knob"', '"knob"\nscale = "clock"')
    for text in (
        SMALL.replace("10", number),
        clock.replace("10", number),
        SMALL + f"[fixed]\nbias = [{number}]\n",
        SMALL + f"[[never]]\ngain = {{ above = {number} }}\n",
        SMALL + f"[search]\ncandidates = {number}\n",
        SMALL + f"[goal]\ngain = {number}\n",
    ):
        with pytest.raises(SheetError) as caught:
            load_sheet(text)
        assert len(str(caught.value)) < 1000
    assert len(sheet_from_tables({**tomllib.loads(SMALL), "fixed": {"bias": 16**6000}}).fixed["bias"]) < 1000


def test_conditions_in_a_circle_are_refused() -> None:
    circle = SMALL.replace("high = 10", "high = 10\nonly_when = { tone = { above = 3 } }") + (
        '[settings.tone]\nkind = "knob"\nlow = 0\nhigh = 10\nonly_when = { gain = { above = 3 } }\n'
    )
    assert ("settings", "only_when") in faults_of(circle)


def test_a_near_miss_is_guessed() -> None:
    with pytest.raises(SheetError, match="did you mean minutes_per_trial"):
        load_sheet(SMALL.replace('name = "a"', 'name = "a"\nminute_per_trial = 5'))


json_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)
table_names = st.sampled_from(["study", "settings", "never", "reading", "overall", "match", "search", "fixed", "x"])


@given(tables=st.dictionaries(table_names, json_values))
def test_any_tables_give_a_sheet_or_its_faults(tables: dict[str, object]) -> None:
    try:
        assert isinstance(sheet_from_tables(tables), StudySheet)
    except SheetError as refusal:
        assert refusal.faults


@given(
    entries=st.dictionaries(
        st.sampled_from(
            [
                "kind",
                "scale",
                "low",
                "high",
                "steps",
                "spots",
                "free",
                "radial_mm",
                "riffs",
                "use",
                "options",
                "only_when",
                "unit",
                "tolerance",
            ]
        ),
        json_values
        | st.sampled_from(["knob", "stage", "mic", "choice", "riff order", "clock", "number", "9:00", "17:00"]),
    )
)
def test_any_setting_table_gives_a_sheet_or_its_faults(entries: dict[str, object]) -> None:
    try:
        assert isinstance(sheet_from_tables({"study": {"name": "a"}, "settings": {"gain": entries}}), StudySheet)
    except SheetError as refusal:
        assert refusal.faults


@given(text=st.text())
def test_any_text_gives_a_sheet_or_its_faults(text: str) -> None:
    with pytest.raises(SheetError):
        load_sheet(text)


def test_settings_of_the_wanted_tone_are_read_as_people_write_them() -> None:
    wanted = '[goal]\ngain = "1:00"\nmic = "rim"\nriffs = ["run", "chugs", "two-note"]\n'
    sheet = load_sheet(FULL + wanted)
    assert sheet.goal_settings == {"gain": 13.0, "mic": "rim", "riffs": ["run", "chugs", "two-note"]}
    assert load_sheet(write_sheet(sheet)) == sheet
    assert load_sheet(FULL).goal_settings == {}
    assert "goal" not in sheet_to_tables(load_sheet(FULL))


def test_settings_of_the_wanted_tone_that_cannot_be_are_all_named() -> None:
    with pytest.raises(SheetError) as wrong:
        load_sheet(FULL + '[goal]\ngain = "noon"\nstage = "loud"\ntreble = 4\n')
    assert {fault.key for fault in wrong.value.faults} == {"gain", "stage", "treble"}
    assert {fault.table for fault in wrong.value.faults} == {"goal"}
