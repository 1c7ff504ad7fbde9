"""What a reel holds, and that its layout can be had without its sound."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.audio import DYAD_S, ReelKind, build_reel, layout_of, length_remarks
from optimiser.errors import BadInput, InvalidRecording
from optimiser.scoring import DYAD_HZ, SWEEP_S, Passage, ReelLayout

RATE_HZ = 48_000
RIFFS = {
    name: 0.3 * np.random.default_rng(seed).uniform(-1, 1, frames)
    for seed, (name, frames) in enumerate(
        {"chugs": 72_000, "held chord": 90_001, "run": 60_000, "two-note": 81_333}.items()
    )
}
ORDER = ("run", "chugs", "two-note", "held chord")
PROOF = build_reel(RIFFS, ORDER, "proof", RATE_HZ)


def cut(name: str) -> np.ndarray:
    passage = next(passage for passage in PROOF.layout.passages if passage.name == name)
    return PROOF.samples[round(passage.start_s * RATE_HZ) : round(passage.end_s * RATE_HZ)]


def test_a_proof_reel_lasts_16_to_25_seconds_and_ends_in_rest() -> None:
    assert 16 <= PROOF.layout.duration_s <= 25
    assert PROOF.samples.size == round(PROOF.layout.duration_s * RATE_HZ)
    rest = PROOF.layout.passages[-1]
    assert rest.kind == "rest"
    assert rest.duration_s >= 0.7
    assert not cut("rest").any()


@pytest.mark.parametrize("name", RIFFS)
def test_each_riff_is_played_softly_ten_decibels_down_and_then_as_given(name: str) -> None:
    np.testing.assert_array_equal(cut(f"{name} hard"), RIFFS[name])
    np.testing.assert_allclose(cut(f"{name} soft"), RIFFS[name] * 10**-0.5, rtol=1e-12)


def test_a_learning_reel_plays_the_riffs_once_in_the_order_given() -> None:
    layout = build_reel(RIFFS, ORDER, "learning", RATE_HZ).layout
    assert tuple(passage.name for passage in layout.of_kind("riff")) == ORDER
    assert not layout.of_kind("chord", "dyad", "rest")


def test_order_changes_the_learning_reel_alone_in_its_order() -> None:
    one = build_reel(RIFFS, ORDER, "learning", RATE_HZ)
    other = build_reel(RIFFS, ORDER[::-1], "learning", RATE_HZ)
    assert one.layout.duration_s == other.layout.duration_s
    assert not np.array_equal(one.samples, other.samples)


def test_the_dyad_is_two_lines_of_whole_hertz() -> None:
    start = round((DYAD_S - 1) / 2 * RATE_HZ)
    power = np.abs(np.fft.rfft(cut("dyad")[start : start + RATE_HZ])) ** 2
    assert power[[int(hertz) for hertz in DYAD_HZ]].sum() / power.sum() == pytest.approx(1.0, abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(
    durations_s=st.lists(st.floats(0.2, 3.0), min_size=1, max_size=5),
    rate_hz=st.sampled_from([44_100, 48_000, 96_000]),
    made=st.sampled_from([("learning", False), ("proof", False), ("verify", False), ("proof", True), ("verify", True)]),
)
def test_the_layout_is_the_same_without_the_sound(
    durations_s: list[float], rate_hz: int, made: tuple[ReelKind, bool]
) -> None:
    kind, sweep = made
    riffs = {f"riff {n}": np.full(int(np.ceil(s * rate_hz)), 0.1) for n, s in enumerate(durations_s)}
    reel = build_reel(riffs, tuple(riffs), kind, rate_hz, sweep=sweep)
    lengths_s = {name: clip.size / rate_hz for name, clip in riffs.items()}
    assert layout_of(tuple(riffs), lengths_s, kind, rate_hz, sweep=sweep) == reel.layout


def test_own_chord_and_dyad_are_played() -> None:
    chord, dyad = np.full(RATE_HZ, 0.2), np.full(RATE_HZ, 0.1)
    reel = build_reel(RIFFS, ORDER, "verify", RATE_HZ, chord=chord, dyad=dyad)
    assert [passage.duration_s for passage in reel.layout.of_kind("chord", "dyad")] == pytest.approx([1.0, 1.0])
    assert reel.layout == layout_of(
        ORDER, {name: clip.size / RATE_HZ for name, clip in RIFFS.items()}, "verify", RATE_HZ, chord_s=1.0, dyad_s=1.0
    )


@pytest.mark.parametrize("order", [(), ("run", "run"), ("run", "solo")])
def test_orders_that_cannot_be_played(order: tuple[str, ...]) -> None:
    with pytest.raises(BadInput):
        build_reel(RIFFS, order, "proof", RATE_HZ)


@pytest.mark.parametrize(
    ("clip", "fault"),
    [
        (np.zeros(RATE_HZ), "silent"),
        (np.full(100, 0.1), "short"),
        (np.full(21 * RATE_HZ, 0.1), "too_large"),
        (np.full(RATE_HZ, 1.5), "clipping"),
        (np.full(RATE_HZ, np.nan), "not_finite"),
        (np.full((RATE_HZ, 2), 0.1), "shape"),
    ],
)
def test_clips_that_cannot_be_played(clip: np.ndarray, fault: str) -> None:
    with pytest.raises(InvalidRecording) as caught:
        build_reel({"own": clip}, ("own",), "proof", RATE_HZ)
    assert caught.value.fault == fault
    assert "own" in caught.value.message


def test_a_sweep_comes_between_the_dyad_and_the_rest_and_changes_nothing_else() -> None:
    plain, swept = PROOF, build_reel(RIFFS, ORDER, "proof", RATE_HZ, sweep=True)
    kinds = [passage.kind for passage in swept.layout.passages]
    assert kinds[-4:] == ["dyad", "silence", "sweep", "rest"]
    start = round(swept.layout.of_kind("dyad")[0].end_s * RATE_HZ)
    np.testing.assert_array_equal(swept.samples[:start], plain.samples[:start])
    assert swept.layout.passages[: len(kinds) - 3] == plain.layout.passages[:-1]
    (passage,) = swept.layout.of_kind("sweep")
    assert passage.duration_s == pytest.approx(SWEEP_S, abs=1e-9)
    sound = swept.samples[round(passage.start_s * RATE_HZ) : round(passage.end_s * RATE_HZ)]
    assert 0.499 < np.max(np.abs(sound)) <= 0.5


def test_a_learning_reel_has_no_sweep() -> None:
    with pytest.raises(BadInput, match="no sweep"):
        build_reel(RIFFS, ORDER, "learning", RATE_HZ, sweep=True)


def test_a_sweep_needs_a_rate_that_holds_it() -> None:
    with pytest.raises(BadInput, match="20 kHz"):
        layout_of(("own",), {"own": 1.0}, "proof", 32_000, sweep=True)
    assert layout_of(("own",), {"own": 1.0}, "proof", 44_100, sweep=True).of_kind("sweep")


@pytest.mark.parametrize(
    ("seconds", "remarks"),
    [
        (12.34, ("The reel lasts 12.3 s; 20 to 30 s show more.",)),
        (20.0, ()),
        (30.0, ()),
        (41.0, ("The reel lasts 41.0 s; 20 to 30 s are enough, and every trial plays it twice.",)),
    ],
)
def test_what_is_said_of_the_length(seconds: float, remarks: tuple[str, ...]) -> None:
    assert length_remarks(ReelLayout((Passage("all", "riff", 0.0, seconds),))) == remarks
