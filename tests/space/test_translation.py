"""What of an old study's settings means something in a new one, and that the rest is named."""

from typing import Any

import numpy as np
import pytest

from optimiser.space import SettingsSpace, Translation, encode, translate
from optimiser.study import load_sheet

OLD = """
[study]
name = "old"
[settings.gain]
kind = "knob"
scale = "clock"
low = "8:00"
high = "17:00"
[settings.stage]
kind = "stage"
steps = ["open", "pushed", "full"]
[settings.mic]
kind = "mic"
spots = [
  { name = "cap", radial_mm = 0, distance_mm = 20, angle_deg = 0 },
  { name = "edge", radial_mm = 25, distance_mm = 20, angle_deg = 0 },
]
[settings.riffs]
kind = "riff order"
riffs = ["a", "b", "c"]
[settings.tone]
kind = "knob"
scale = "number"
low = 0
high = 10
"""
SETTINGS: dict[str, Any] = {"gain": 12.5, "stage": "pushed", "mic": "edge", "riffs": ["c", "a", "b"], "tone": 4.0}


def _space(*changes: tuple[str, str]) -> SettingsSpace:
    text = OLD
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return load_sheet(text).space


def _translated(*changes: tuple[str, str], **other: Any) -> tuple[Translation, SettingsSpace]:
    new = _space(*changes)
    return translate(_space(), new, [{**SETTINGS, **other}]), new


def test_one_space_translates_into_itself_as_it_is_encoded() -> None:
    translation, space = _translated()
    np.testing.assert_array_equal(translation.rows, encode(space, [SETTINGS]))
    assert translation.places == (0,)
    assert translation.ignored == ()


def test_a_knob_is_carried_over_by_its_number_beyond_the_new_range_too() -> None:
    translation, space = _translated(('high = "17:00"', 'high = "12:00"'))
    assert translation.rows[0, 0] == pytest.approx((12.5 - 8.0) / 4.0)
    assert space.outside({"gain": 12.5}) == ("gain",)


def test_a_knob_on_another_scale_is_ignored_and_named() -> None:
    translation, _ = _translated(
        ('scale = "clock"\nlow = "8:00"\nhigh = "17:00"', 'scale = "number"\nlow = 0\nhigh = 9')
    )
    assert [block.setting for block in translation.blocks] == ["stage", "mic", "riffs", "tone"]
    assert translation.ignored == ("gain (on another scale there)",)


def test_settings_of_one_side_alone_are_named() -> None:
    translation, _ = _translated(("[settings.tone]", "[settings.blend]"))
    assert translation.ignored == ("tone (not in this study)", "blend (not varied there)")
    assert [block.setting for block in translation.blocks] == ["gain", "stage", "mic", "riffs"]


def test_a_moved_spot_is_found_by_its_coordinates_and_not_by_its_name() -> None:
    changes = (('"edge", radial_mm = 25', '"edge", radial_mm = 50'), ('"cap", radial_mm = 0', '"cap", radial_mm = 25'))
    translation, space = _translated(*changes)
    block = next(block for block in translation.blocks if block.setting == "mic")
    expected = encode(space, [{**SETTINGS, "mic": "cap"}])[0, list(block.columns)]
    np.testing.assert_array_equal(translation.rows[0, list(block.columns)], expected)


def test_a_spot_that_is_nowhere_here_still_tells_by_its_place() -> None:
    translation, _ = _translated(('"edge", radial_mm = 25', '"edge", radial_mm = 50'))
    column = next(block for block in translation.blocks if block.setting == "mic").columns[0]
    assert translation.rows[0, column : column + 2].tolist() == [-1.0, 0.5]


def test_spots_become_places_of_a_free_mic() -> None:
    spots = OLD[OLD.index("spots = [") : OLD.index("[settings.riffs]")]
    ranges = "free = true\nradial_mm = [0, 100]\ndistance_mm = [0, 40]\nangle_deg = [0, 45]\n"
    translation, _ = _translated((spots, ranges))
    columns = next(block for block in translation.blocks if block.setting == "mic").columns
    assert translation.rows[0, list(columns)].tolist() == [0.25, 0.5, 0.0]


def test_an_order_keeps_the_riffs_that_both_have() -> None:
    translation, _ = _translated(('riffs = ["a", "b", "c"]', 'riffs = ["c", "d", "b"]'))
    block = next(block for block in translation.blocks if block.setting == "riffs")
    assert len(block.columns) == 2
    assert translation.rows[0, list(block.columns)].tolist() == [0.0, 1.0]  # c before b, a left out
    assert translation.ignored == ("riffs d (new here)", "riffs a (not in this study)")


def test_trials_at_a_step_that_is_gone_are_left_out_and_counted() -> None:
    changes = (('steps = ["open", "pushed", "full"]', 'steps = ["open", "full"]'),)
    translation, _ = _translated(*changes)
    assert translation.places == ()
    assert translation.ignored == (
        "stage pushed (not in this study)",
        "1 trial at settings that this study does not know",
    )
    assert _translated(*changes, stage="full")[0].places == (0,)


def test_steps_in_another_order_are_another_setting() -> None:
    translation, _ = _translated(('steps = ["open", "pushed", "full"]', 'steps = ["full", "pushed", "open"]'))
    assert translation.ignored == ("stage (other steps there)",)


def test_another_kind_of_the_same_name_is_ignored() -> None:
    kind = 'kind = "stage"\nsteps = ["open", "pushed", "full"]'
    translation, _ = _translated((kind, 'kind = "choice"\noptions = ["open", "pushed", "full"]'))
    assert translation.ignored == ("stage (another kind of setting there)",)


def test_nothing_in_common_leaves_no_columns() -> None:
    only = load_sheet('[study]\nname = "x"\n[settings.bias]\nkind = "knob"\nscale = "number"\nlow = 0\nhigh = 1\n')
    translation = translate(_space(), only.space, [SETTINGS])
    assert translation.blocks == ()
    assert "gain (not in this study)" in translation.ignored
