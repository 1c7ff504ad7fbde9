"""Whole takes on the rehearsal amp, on a short proof reel."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from optimiser.errors import BadInput, InvalidSettings
from optimiser.rehearsal import (
    FAVOURITE_SETTINGS,
    LEARNING_RIFFS,
    NO_ERRORS,
    REHEARSAL_SHEET,
    RehearsalAmp,
    RehearsalTake,
    play_riff,
)
from optimiser.space import Settings
from optimiser.study import load_sheet

AMP = RehearsalAmp()
PROOF = np.concatenate([np.zeros(4_800), play_riff("chugs")[:30_000], play_riff("held chord")[:30_000]])


def arrangement(gain: float = 12.25, stage: str = "pushed", **other: Any) -> Settings:
    return {"gain": gain, "stage": stage, "mic": "cap edge", "riffs": list(LEARNING_RIFFS), **other}


def lessons(order: Sequence[str] = LEARNING_RIFFS) -> list[tuple[str, NDArray[np.float64]]]:
    return [(name, play_riff(name)[:36_000]) for name in order]


def take(settings: Settings | None = None, **how: Any) -> RehearsalTake:
    wanted = arrangement() if settings is None else settings
    order: Any = wanted["riffs"]
    return AMP.take(wanted, lessons(order), PROOF, **{"seed": 1, **how})


def unlike(take: RehearsalTake) -> float:
    """Share of the reference that the capture misses, both of exact takes, at the best gain."""
    reference, capture = take.reference, take.capture
    scale = (capture @ reference) / (capture @ capture)
    return float(np.sqrt(np.sum((reference - scale * capture) ** 2) / np.sum(reference**2)))


def test_sheet_is_one_that_the_tool_opens() -> None:
    sheet = load_sheet(REHEARSAL_SHEET)
    assert sheet == AMP.sheet
    assert list(sheet.space.by_name) == ["gain", "stage", "mic", "riffs"]
    assert sheet.space.allows(arrangement())
    assert not sheet.space.allows(arrangement(gain=16.5, stage="full"))


def test_sheet_in_the_studies_folder_is_this_one() -> None:
    kept = Path(__file__).parents[2] / "studies" / "rehearsal-amp" / "sheet.toml"
    assert kept.read_text(encoding="utf-8") == REHEARSAL_SHEET


def test_take_gives_two_files_as_long_as_reel_and_tail_and_a_reading() -> None:
    took = take()
    assert took.reference.shape == took.capture.shape == (len(PROOF) + 12_000,)
    for samples in (took.reference, took.capture):
        assert np.all(np.isfinite(samples))
        assert np.max(np.abs(samples)) <= 0.5 + 1e-9
    assert 0.0 <= took.reading <= 10.0
    assert took.reading == round(took.reading, 1)


def test_same_seed_same_bits() -> None:
    first, second = take(), take()
    assert np.array_equal(first.reference, second.reference)
    assert np.array_equal(first.capture, second.capture)
    assert first.set_really == second.set_really


def test_another_seed_is_another_take() -> None:
    first, second = take(seed=1), take(seed=2)
    assert first.set_really["gain"] != second.set_really["gain"]
    assert not np.allclose(first.reference, second.reference)


def test_exact_takes_depend_on_no_seed_and_no_day() -> None:
    first, second = take(seed=1, day=0, exact=True), take(seed=9, day=4, exact=True)
    assert np.array_equal(first.reference, second.reference)
    assert np.array_equal(first.capture, second.capture)
    assert first.set_really["gain"] == 12.25


def test_days_differ_in_gain_and_place() -> None:
    chains = [AMP.set_up(arrangement(), seed=1, day=day, exact=False) for day in (0, 0, 1)]
    assert chains[0].amplifier == chains[1].amplifier
    assert chains[0].amplifier.first_db != chains[2].amplifier.first_db
    assert chains[0].place.radial_mm != chains[2].place.radial_mm


def test_without_errors_an_ordinary_take_is_the_exact_one_but_for_its_hiss() -> None:
    still = RehearsalAmp(errors=NO_ERRORS)
    plain = still.take(arrangement(), lessons(), PROOF, seed=5)
    assert plain.reference == pytest.approx(take(exact=True).reference, abs=3e-3)


def test_lower_gain_and_a_tamer_stage_lift_the_reading_from_nothing() -> None:
    """Common practice, no source: a quarter of the gain's travel and one stage lift a reading from 0 into 6 to 8."""
    assert take(arrangement(14.5, "full"), exact=True).reading < 1.0
    assert 6.0 <= take(arrangement(12.25, "pushed"), exact=True).reading <= 8.0


def test_model_is_worse_where_the_amp_is_driven_harder() -> None:
    misses = [unlike(take(arrangement(gain), exact=True)) for gain in (11.0, 13.0, 15.0)]
    assert misses == sorted(misses)


def test_order_of_riffs_changes_the_capture_and_not_the_reference() -> None:
    there = take(exact=True)
    back = take(arrangement(riffs=list(LEARNING_RIFFS)[::-1]), exact=True)
    assert np.array_equal(there.reference, back.reference)
    assert abs(unlike(there) - unlike(back)) > 1e-3


def test_spot_at_the_rim_sounds_duller_than_one_at_the_centre() -> None:
    shares = []
    for spot in ("cap centre", "rim"):
        power = np.abs(np.fft.rfft(take(arrangement(mic=spot), exact=True).reference)) ** 2
        edge = len(power) * 2_500 // 24_000
        shares.append(power[edge:].sum() / power.sum())
    assert shares[1] < 0.75 * shares[0]


def test_goal_is_recorded_at_the_favourite_settings_of_the_room() -> None:
    goal = AMP.goal_reference(PROOF, seed=3, exact=True)
    gain, stage, mic = (FAVOURITE_SETTINGS[name] for name in ("gain", "stage", "mic"))
    assert np.array_equal(
        goal, take({"gain": gain, "stage": stage, "mic": mic, "riffs": [*LEARNING_RIFFS]}, exact=True).reference
    )


def test_a_mic_place_that_is_no_saved_spot_can_be_set() -> None:
    place = {"radial_mm": 40.0, "distance_mm": 30.0, "angle_deg": 10.0}
    assert take(arrangement(mic=place), exact=True).set_really["mic"] == place


def test_riffs_in_another_order_than_set_are_refused() -> None:
    with pytest.raises(BadInput, match="the settings say"):
        AMP.take(arrangement(), lessons(LEARNING_RIFFS[::-1]), PROOF, seed=1)


@pytest.mark.parametrize(
    "proof",
    [np.zeros(9_000), np.full(9_000, np.nan), np.zeros((2, 9_000)), np.zeros(0)],
    ids=["silent", "nan", "two", "empty"],
)
def test_sounds_that_cannot_be_played_are_refused(proof: NDArray[np.float64]) -> None:
    with pytest.raises(BadInput, match="proof reel"):
        AMP.take(arrangement(), lessons(), proof, seed=1)
    with pytest.raises(BadInput, match="proof reel"):
        AMP.goal_reference(proof, seed=1)


def test_settings_that_the_sheet_cannot_read_are_refused() -> None:
    with pytest.raises(InvalidSettings, match="gain"):
        AMP.take({**arrangement(), "gain": "loud"}, lessons(), PROOF, seed=1)


def test_device_starts_elsewhere_each_time_and_so_learns_a_little_differently() -> None:
    only_start = RehearsalAmp(errors=replace(NO_ERRORS, start_share=0.1))
    first, second = (only_start.take(arrangement(), lessons(), PROOF, seed=seed) for seed in (1, 2))
    assert first.set_really == second.set_really
    assert 1e-3 < np.std(first.capture - second.capture) / np.std(first.capture) < 0.2
