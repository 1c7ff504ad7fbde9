"""What does not matter leaves the score alone, what matters lowers it in order and is named."""

import dataclasses
import json
import subprocess
import sys
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
import soxr
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimiser.audio import Reel
from optimiser.errors import InvalidRecording
from optimiser.scoring import MEASURE_VERSION, Measurement, measure

RATE_HZ = 48_000
Sound = np.ndarray
Amp = Callable[..., Sound]
DRIVES = (1.5, 6.0, 40.0)


@pytest.fixture(scope="module")
def told(reel: Reel, reference: Sound) -> Callable[[Sound], Measurement]:
    return lambda capture: measure(reference, capture, RATE_HZ, layout=reel.layout)


NUISANCES: dict[str, Callable[[Sound, Amp], Sound]] = {
    "nothing": lambda sound, _: sound,
    "delay": lambda sound, shifted: shifted(sound, 1234.5),
    "early": lambda sound, shifted: shifted(sound, -777.25),
    "quieter": lambda sound, _: sound * 0.25,
    "louder": lambda sound, _: sound * 2.8,
    "upside down": lambda sound, _: -sound,
    "drift 100": lambda sound, shifted: shifted(sound, 0.0, 100.0),
    "drift -100": lambda sound, shifted: shifted(sound, 0.0, -100.0),
    "offset": lambda sound, _: sound + 0.02,
    "half a second late": lambda sound, _: sound[24_000:],
    "all at once": lambda sound, shifted: -0.4 * shifted(sound, 211.37, 30.0) + 0.01,
}


@pytest.mark.parametrize("name", NUISANCES)
def test_what_does_not_matter_costs_less_than_half_a_point(
    capture: Sound, shifted: Amp, told: Callable[[Sound], Measurement], name: str
) -> None:
    assert told(NUISANCES[name](capture, shifted)).match >= 99.5


@pytest.mark.parametrize("drive", DRIVES)
def test_ten_decibels_more_hiss_cost_less_than_half_a_point(reel: Reel, amp: Amp, drive: float) -> None:
    quiet, hissing = amp(reel.samples, drive), amp(reel.samples, drive, noise_db=-62.0, seed=2)
    assert measure(quiet, hissing, RATE_HZ, layout=reel.layout).match >= 99.5


@pytest.mark.parametrize("rate_hz", [44_100, 96_000])
def test_the_sample_rate_costs_less_than_half_a_point_and_is_mentioned(
    reel: Reel, reference: Sound, capture: Sound, rate_hz: int
) -> None:
    other = soxr.resample(capture, RATE_HZ, rate_hz)
    result = measure(reference, other, RATE_HZ, capture_rate_hz=rate_hz, layout=reel.layout)
    assert result.match >= 99.5
    assert any("sample rates differ" in warning for warning in result.warnings)
    assert measure(reference, other, RATE_HZ, capture_rate_hz=rate_hz).match >= 99.5


@pytest.mark.parametrize("hertz", [200.0, 700.0])
def test_phase_that_is_hardly_heard_costs_hardly_anything(
    capture: Sound, through: Amp, told: Callable[[Sound], Measurement], hertz: float
) -> None:
    assert told(through(capture, lambda f: (1 - 1j * f / hertz) / (1 + 1j * f / hertz))).match >= 98.0


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    gain_db=st.floats(-30.0, 10.0),
    delay_samples=st.floats(-20_000.0, 20_000.0),
    polarity=st.sampled_from([1, -1]),
)
def test_gain_delay_and_polarity_change_nothing_but_what_is_said_of_them(
    capture: Sound,
    shifted: Amp,
    told: Callable[[Sound], Measurement],
    gain_db: float,
    delay_samples: float,
    polarity: int,
) -> None:
    result = told(polarity * 10 ** (gain_db / 20) * shifted(capture, delay_samples))
    assert result.match >= 99.5
    assert result.gain_db == pytest.approx(gain_db, abs=0.05)
    assert result.delay_ms == pytest.approx(delay_samples / 48, abs=0.002)
    assert result.polarity == polarity


def envelope(sound: Sound) -> Sound:
    """Rms over 50 ms around every sample."""
    running = np.concatenate([[0.0], np.cumsum(np.pad(sound, 1200) ** 2)])
    return np.asarray(np.sqrt((running[2400:] - running[:-2400])[: sound.size] / 2400) + 1e-9)


def faulty(name: str, size: float, dry: Sound, amp: Amp, through: Amp, drive: float) -> Sound:
    """The toy amp with one fault."""
    if name in ("less drive", "more drive"):
        return np.asarray(amp(dry, drive * size, seed=2))
    sound = amp(dry, drive, seed=2)
    level = envelope(sound)
    if name == "compressed":
        return np.asarray(sound * (np.maximum(level, 1e-3 * level.max()) / level.max()) ** (1 / size - 1))
    if name == "noise":
        loud = np.sqrt(np.mean(sound[np.abs(sound) > 1e-2 * np.max(np.abs(sound))] ** 2))
        hiss = np.random.default_rng(5).normal(size=sound.size)
        return np.asarray(sound + hiss * loud * 10 ** (-size / 20))
    if name == "gate":
        opened = (20 * np.log10(level / level.max()) > size).astype(float)
        return np.asarray(sound * np.convolve(opened, np.ones(96) / 96, "same"))
    if name == "echo":
        return np.asarray(sound + 10 ** (size / 20) * np.concatenate([np.zeros(24), sound[:-24]]))
    return np.asarray(through(sound, lambda hertz: response(name, size, hertz)))


def response(name: str, size: float, hertz: Sound) -> np.ndarray:
    """Filters of the ladders; `size` in dB, in Hz for `dark`."""
    if name == "tilt":
        return np.asarray(10 ** (size * np.log2(np.maximum(hertz, 20.0) / 1000) / 8 / 20) + 0j)
    if name == "thin":
        return np.asarray((1j * hertz / 250 + 10 ** (-size / 20)) / (1j * hertz / 250 + 1))
    if name == "dark":
        return np.asarray(1 / (1 + np.sqrt(2) * 1j * hertz / size + (1j * hertz / size) ** 2))
    middle_hz, quality, gain_db = (4000.0, 1.0, size) if name == "harsh" else (1000.0, 4.0, -size)
    root, ratio = 10 ** (gain_db / 40), 1j * hertz / middle_hz
    return np.asarray((ratio**2 + ratio * root / quality + 1) / (ratio**2 + ratio / (root * quality) + 1))


SIZES: dict[str, tuple[float, ...]] = {
    "tilt": (1, 4, 8),
    "thin": (2, 4, 8),
    "harsh": (1, 4, 8),
    "notch": (3, 6, 12),
    "dark": (7000, 5000, 2500),
    "compressed": (1.1, 1.5, 2),
    "noise": (50, 40, 30),
    "gate": (-45, -30, -20),
    "less drive": (0.8, 0.4, 0.2),
    "more drive": (1.25, 2.5, 5),
    "echo": (-18, -12, -6),
}


TAME_AND_WILD = ("tilt", "compressed", "noise", "less drive", "more drive")


@pytest.mark.parametrize(
    ("name", "drive"),
    [(name, 6.0) for name in SIZES] + [(name, drive) for name in TAME_AND_WILD for drive in (1.5, 40.0)],
)
def test_a_growing_fault_lowers_the_score(reel: Reel, amp: Amp, through: Amp, name: str, drive: float) -> None:
    real = amp(reel.samples, drive)
    scores = [
        measure(real, faulty(name, size, reel.samples, amp, through, drive), RATE_HZ, layout=reel.layout).match
        for size in SIZES[name]
    ]
    assert all(later < earlier + 0.05 for earlier, later in pairwise(scores)), scores
    assert scores[-1] < scores[0] - 1.0, scores


# what the trade would say of each
WORDS = {
    "tilt": (4, "Too bright overall"),
    "thin": (8, "Thin"),
    "harsh": (4, "Harsh"),
    "notch": (6, "1000 Hz|Recessed"),
    "dark": (2500, "Dark|Dull|Too dark"),
    "compressed": (1.5, "Too compressed"),
    "noise": (40, "Noisier"),
    "gate": (-30, "Gate-like"),
    "less drive": (0.4, "Less distorted"),
    "more drive": (2.5, "More distorted"),
}


@pytest.mark.parametrize("name", WORDS)
def test_the_fault_is_named(
    reel: Reel, amp: Amp, through: Amp, told: Callable[[Sound], Measurement], name: str
) -> None:
    size, words = WORDS[name]
    advice = told(faulty(name, size, reel.samples, amp, through, 6.0)).advice
    assert 1 <= len(advice) <= 5
    assert any(word in sentence for word in words.split("|") for sentence in advice), advice


def test_nothing_is_said_of_a_perfect_capture(told: Callable[[Sound], Measurement], capture: Sound) -> None:
    result = told(capture)
    assert result.advice == ()
    assert result.warnings == ()
    assert result.articulation_kept == pytest.approx(1.0, abs=0.01)
    assert result.match_se < 0.1


def test_a_softened_attack_is_named(reel: Reel, amp: Amp, told: Callable[[Sound], Measurement]) -> None:
    """The first 20 ms of every note of the riff played last, 6 dB down."""
    sound = amp(reel.samples, seed=2)
    gain_db = np.zeros(sound.size)
    for passage in reel.layout.of_kind("riff")[2:]:
        for note in range(6):
            first = round((passage.start_s + 0.2 * note) * RATE_HZ)
            gain_db[first - 240 : first + 960] = -6.0
    smooth = np.convolve(gain_db, np.hanning(481) / np.hanning(481).sum(), "same")
    result = told(sound * 10 ** (smooth / 20))
    assert any("Pick attack softened" in sentence for sentence in result.advice), result.advice


@pytest.mark.parametrize("drive", DRIVES)
def test_more_drive_means_less_articulation(reel: Reel, amp: Amp, drive: float) -> None:
    result = measure(amp(reel.samples, drive), amp(reel.samples, 3 * drive, seed=2), RATE_HZ, layout=reel.layout)
    assert result.articulation_kept < 0.95
    assert 0 <= result.articulation <= 100


def test_the_goal_is_scored_apart(reel: Reel, reference: Sound, capture: Sound, amp: Amp, shifted: Amp) -> None:
    wanted = shifted(amp(reel.samples, 12.0, seed=7), 9000.25)
    result = measure(reference, capture, RATE_HZ, layout=reel.layout, goal=wanted)
    alone = measure(wanted, capture, RATE_HZ, layout=reel.layout)
    assert result.match >= 99.5
    assert result.goal == alone.match
    assert result.goal_se == alone.match_se
    assert result.goal is not None
    assert result.goal < 90
    assert measure(reference, capture, RATE_HZ, layout=reel.layout).goal is None


def test_goal_at_another_rate(reel: Reel, reference: Sound, capture: Sound) -> None:
    goal = soxr.resample(capture, RATE_HZ, 44_100)
    result = measure(reference, capture, RATE_HZ, layout=reel.layout, goal=goal, goal_rate_hz=44_100)
    assert result.goal is not None
    assert result.goal >= 99.5


def test_without_a_layout_the_score_is_much_the_same(reel: Reel, reference: Sound, amp: Amp) -> None:
    driven = amp(reel.samples, 10.0, seed=2)
    known = measure(reference, driven, RATE_HZ, layout=reel.layout)
    unknown = measure(reference, driven, RATE_HZ)
    assert unknown.match == pytest.approx(known.match, abs=2.0)


def test_the_same_recordings_give_the_same_bits_also_in_another_process(reference: Sound, reel: Reel, amp: Amp) -> None:
    driven = amp(reel.samples, 8.0, seed=2)
    here = [measure(reference, driven, RATE_HZ, layout=reel.layout) for _ in range(2)]
    assert here[0] == here[1]
    code = (
        "import sys, numpy as np; from optimiser.scoring import measure; a = np.frombuffer(sys.stdin.buffer.read());"
        "print(measure(a[:a.size // 2], a[a.size // 2:], 48000).match.hex())"
    )
    both = np.concatenate([reference, driven]).tobytes()
    told = (
        subprocess.run([sys.executable, "-c", code], input=both, capture_output=True, check=True)
        .stdout.decode()
        .strip()
    )
    assert told == measure(reference, driven, RATE_HZ).match.hex()


def test_a_measurement_is_plain_json(told: Callable[[Sound], Measurement], capture: Sound) -> None:
    result = told(np.roll(capture, 7) * 0.5)
    again = json.loads(json.dumps(dataclasses.asdict(result)))
    assert [part["name"] for part in again["parts"]] == [
        "tone", "dynamics", "attack", "residual", "texture", "decay", "noise"
    ]  # fmt: skip
    assert again["measure_version"] == MEASURE_VERSION
    assert all(part["steps"] == pytest.approx(part["value"] / part["step"]) for part in again["parts"])


def test_inputs_are_left_alone(reference: Sound, capture: Sound) -> None:
    before = reference.copy(), capture.copy()
    measure(reference, capture, RATE_HZ)
    np.testing.assert_array_equal(reference, before[0])
    np.testing.assert_array_equal(capture, before[1])


def test_importing_the_room_loads_nothing_heavy() -> None:
    code = "import sys, optimiser.scoring; print([m for m in ('scipy', 'soxr', 'matplotlib') if m in sys.modules])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, check=True).stdout.strip() == b"[]"


def refused(reference: Sound, capture: Sound, **more: int) -> str:
    with pytest.raises(InvalidRecording) as caught:
        measure(reference, capture, RATE_HZ, **more)  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)
    assert caught.value.hint
    return caught.value.fault


def test_recordings_that_cannot_be_measured(reference: Sound, capture: Sound) -> None:
    broken = capture.copy()
    broken[5000] = np.nan
    assert refused(reference, broken) == "not_finite"
    assert refused(broken, capture) == "not_finite"
    assert refused(reference, capture[:50_000]) == "short"
    assert refused(reference, np.zeros(0)) == "short"
    assert refused(reference, np.zeros_like(capture)) == "silent"
    assert refused(reference, np.full_like(capture, 0.3)) == "silent"
    assert refused(reference, capture * 1e9) == "level"
    assert refused(reference, capture * 1e300) == "level"
    assert refused(reference, np.zeros((capture.size, 9))) == "shape"
    assert refused(reference, capture, capture_rate_hz=1000) == "rate"


def test_another_performance_is_refused(reference: Sound, capture: Sound, other_performance: Sound, amp: Amp) -> None:
    assert refused(reference, amp(other_performance, seed=2)) == "mismatch"
    assert refused(reference, capture[::-1]) == "mismatch"
    assert refused(reference, np.random.default_rng(4).normal(size=capture.size)) == "mismatch"


def test_of_three_recordings_the_one_that_does_not_belong_is_named(
    reference: Sound, capture: Sound, other_performance: Sound, amp: Amp
) -> None:
    stranger = amp(other_performance, seed=2)
    for files, said in (
        ((reference, stranger, reference), "The capture is no recording of the same performance as the reference."),
        ((stranger, capture, reference), "The reference is no recording of the same performance as capture and goal"),
        ((reference, capture, stranger), "The goal reference is no recording of the same performance as reference and"),
    ):
        with pytest.raises(InvalidRecording) as caught:
            measure(files[0], files[1], RATE_HZ, goal=files[2])
        assert caught.value.message.startswith(said)
        assert caught.value.fault == "mismatch"


def test_a_wrong_sample_rate_is_told_from_another_performance(reference: Sound, capture: Sound) -> None:
    assert refused(reference, soxr.resample(capture, RATE_HZ, 44_100)) == "wrong_rate"
    assert refused(reference, soxr.resample(capture, 44_100, RATE_HZ)) == "wrong_rate"


@pytest.mark.parametrize("drive", [1.0, 40.0, 200.0])
def test_an_amp_unlike_the_reference_is_still_measured(
    reel: Reel, amp: Amp, told: Callable[[Sound], Measurement], drive: float
) -> None:
    assert 1 < told(amp(reel.samples, drive, seed=2)).match < 70


def warned(result: Measurement, word: str) -> bool:
    return any(word in warning for warning in result.warnings)


def test_what_is_doubtful_is_said(
    reel: Reel, capture: Sound, shifted: Amp, told: Callable[[Sound], Measurement]
) -> None:
    assert warned(told(capture + 0.02), "offset")
    assert warned(told(np.stack([0.5 * capture, capture], axis=1)), "channel 2")
    assert not told(np.stack([capture, capture], axis=1)).warnings
    assert warned(told(shifted(capture, 0.0, 100.0)), "clocks differ")
    slipped = told(np.concatenate([capture[:300_000], capture[300_512:]]))
    assert warned(slipped, "lost or repeated")
    assert slipped.match < 60
    top = 0.7 * np.max(np.abs(capture))
    assert warned(told(np.clip(capture, -top, top)), "clipped")
    place = round((reel.layout.of_kind("chord")[0].start_s + 0.3) * RATE_HZ)
    dropped = capture.copy()
    dropped[place : place + 480] = 0.0
    assert warned(told(dropped), "dropout")


@pytest.mark.parametrize("mains_hz", [50, 60])
def test_hum_is_found_with_its_frequency(capture: Sound, told: Callable[[Sound], Measurement], mains_hz: int) -> None:
    time_s = np.arange(capture.size) / RATE_HZ
    hum = sum(np.sin(2 * np.pi * mains_hz * harmonic * time_s) / harmonic for harmonic in range(1, 7))
    assert warned(told(capture + 3e-4 * hum), f"hums at {mains_hz} Hz")
    assert not warned(told(capture), "hums")


def test_a_layout_that_the_reference_does_not_follow_is_left_out(reference: Sound, capture: Sound) -> None:
    from optimiser.scoring import Passage, ReelLayout

    edges = [(0.35 * n, 0.35 * n + 0.3) for n in range(40)]
    wrong = ReelLayout(
        tuple(Passage(f"{n}", "riff" if n % 2 else "rest", first, last) for n, (first, last) in enumerate(edges))
    )
    assert warned(measure(reference, capture, RATE_HZ, layout=wrong), "layout")


ODD: dict[str, Sound] = {
    "sine": 0.5 * np.sin(2 * np.pi * 440 * np.arange(3 * RATE_HZ) / RATE_HZ),
    "noise": 0.1 * np.random.default_rng(6).normal(size=3 * RATE_HZ),
    "click": np.eye(1, 3 * RATE_HZ, RATE_HZ)[0],
    "step": (np.arange(3 * RATE_HZ) > RATE_HZ) * 1.0,
    "above hearing": 0.5 * np.sin(2 * np.pi * 23_000 * np.arange(3 * RATE_HZ) / RATE_HZ),
    "almost nothing": np.where(np.arange(3 * RATE_HZ) > 2 * RATE_HZ, 0.5, 1e-310),
}


@pytest.mark.parametrize("reference_name", ODD)
def test_odd_sounds_give_a_finite_measurement_or_one_line(reel: Reel, reference_name: str) -> None:
    for capture_name, capture in ODD.items():
        for layout in (None, reel.layout):
            try:
                result = measure(ODD[reference_name], capture, RATE_HZ, layout=layout)
            except InvalidRecording as error:
                assert "\n" not in str(error)
            else:
                json.dumps(dataclasses.asdict(result), allow_nan=False)
                assert result.match >= (99.5 if capture_name == reference_name else 0)
