"""What the capture device can learn, what it cannot, and that the order of riffs counts."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter

from optimiser.rehearsal import LEARNING_RIFFS, Amplifier, CaptureDevice, play_riff
from optimiser.rehearsal.amplifier import amplify
from optimiser.rehearsal.capture import learn
from optimiser.rehearsal.device_model import CaptureModel, bend, bend_slopes, front

PATIENT = CaptureDevice(n_rounds=12, stride=1.0, tiring=1.0, forgetting=1.0)
"""A device that takes its time."""

Lesson = tuple[NDArray[np.float64], NDArray[np.float64]]


def short_riffs() -> list[NDArray[np.float64]]:
    return [play_riff(name)[:36_000] for name in LEARNING_RIFFS]


def lessons(gain_hours: float, stage: str) -> list[Lesson]:
    return [(di, amplify(di, gain_hours, stage, Amplifier())) for di in short_riffs()]


def test_a_chain_without_distortion_is_learnt_and_plays_an_unheard_riff() -> None:
    """The chain is a finite filter of our own, so the model's rendering of another riff must be that filter's."""
    chain = np.random.default_rng(0).normal(size=60) * np.exp(-np.arange(60) / 12.0)
    model = learn([(1e-3 * di, lfilter(chain, [1.0], 1e-3 * di)) for di in short_riffs()], CaptureDevice())
    unheard = 1e-3 * play_riff("open strings")[:36_000]
    expected = lfilter(chain, [1.0], unheard)
    assert model.error_share < 0.01
    assert np.std(model.play(unheard) - expected) < 0.01 * np.std(expected)


def test_a_chain_of_its_own_kind_is_learnt_whole() -> None:
    """Filter, curve, filter with numbers of our own: within the device's reach, so hardly an error is left."""
    theta = np.array([9.0, -4.0, 2.0, 0.1, 0.5, -0.2])
    taps = np.random.default_rng(1).normal(size=100) * np.exp(-np.arange(100) / 20.0)
    true = CaptureModel(PATIENT, theta, taps, 0.0)
    model = learn([(di, true.play(di)) for di in short_riffs()], PATIENT)
    assert model.error_share < 0.01
    assert model.reading > 9.5


def test_slopes_are_those_of_the_curve() -> None:
    """Central differences."""
    parts = front(play_riff("run")[2_000:2_400], CaptureDevice())
    theta = np.array([7.0, -3.0, 1.5, 0.05, 0.4, 0.3])
    for place, slope in enumerate(bend_slopes(parts, theta)):
        nudge = np.zeros(6)
        nudge[place] = 1e-5
        difference = (bend(parts, theta + nudge) - bend(parts, theta - nudge)) / 2e-5
        assert slope == pytest.approx(difference, abs=1e-6)


@pytest.mark.parametrize("stage", ["open", "pushed", "full"])
def test_the_harder_the_amp_is_driven_the_more_is_missed(stage: str) -> None:
    shares = [learn(lessons(hours, stage), CaptureDevice()).error_share for hours in (11.0, 13.0, 15.0)]
    assert shares == sorted(shares)


@pytest.mark.parametrize("gain_hours", [11.0, 13.0])
def test_each_stage_leaves_the_device_further_behind(gain_hours: float) -> None:
    shares = [learn(lessons(gain_hours, stage), CaptureDevice()).error_share for stage in ("open", "pushed", "full")]
    assert shares == sorted(shares)


def test_patience_does_not_mend_what_one_curve_cannot_follow() -> None:
    """The limit is the model's, not only the learning's: many steps leave much of the error at full drive."""
    hard, easy = (learn(lessons(*at)[:2], PATIENT).error_share for at in ((15.0, "full"), (12.0, "open")))
    assert hard > 3.0 * easy


def test_order_of_riffs_changes_the_model() -> None:
    heard = lessons(12.25, "pushed")
    there, back = (learn(order, CaptureDevice()) for order in (heard, heard[::-1]))
    assert abs(there.error_share - back.error_share) > 1e-3


def test_learning_twice_gives_the_same_bits() -> None:
    first, second = (learn(lessons(12.25, "pushed"), CaptureDevice()) for _ in range(2))
    assert np.array_equal(first.taps, second.taps)
    assert np.array_equal(first.theta, second.theta)


def test_silent_recording_gives_a_reading_and_no_warning() -> None:
    model = learn([(di, np.zeros_like(di)) for di in short_riffs()], CaptureDevice())
    assert np.all(np.isfinite(model.play(short_riffs()[0])))
    assert 0.0 <= model.reading <= 10.0


@pytest.mark.parametrize(("error_share", "reading"), [(0.0, 10.0), (0.09, 7.0), (0.3, 0.0), (0.9, 0.0)])
def test_reading_runs_from_ten_without_error_to_zero(error_share: float, reading: float) -> None:
    device = replace(CaptureDevice(), silent_share=0.3)
    assert CaptureModel(device, device.start, np.zeros(512), error_share).reading == pytest.approx(reading)
