"""Excerpts of recordings whose delay, polarity, rate and level are known: what remains is the same sound twice."""

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from optimiser.errors import BadInput, BadUse, NotFound
from optimiser.storage import Store, open_store
from optimiser.study import Event, load_sheet, sheet_to_tables
from optimiser.workflow import Window, excerpt
from tests.cli.conftest import SHEET

AT = "2026-03-02T10:00:00+00:00"
RATE_HZ = 48_000
SETTINGS = {"gain": 13.0, "stage": "pushed", "mic": "cap", "riffs": ["chugs", "held chord", "run", "two-note"]}

Keep = Callable[..., Store]


def sound(seconds: float, rate_hz: int = RATE_HZ) -> NDArray[np.float64]:
    """A few tones that swell and fade, the same function of time at any rate; loudest round its middle."""
    time_s = np.arange(round(seconds * rate_hz)) / rate_hz
    tones = sum(np.sin(2 * np.pi * hertz * time_s + hertz) for hertz in (110.0, 331.0, 997.0, 2503.0))
    return np.asarray(0.1 * tones * np.sin(np.pi * time_s / seconds) ** 2)


@pytest.fixture
def keep(tmp_path: Path) -> Keep:
    """A store with one trial whose two recordings are the given ones."""

    def _keep(reference: NDArray[np.float64], capture: NDArray[np.float64], rate_hz: int, **found: float) -> Store:
        store = open_store(str(tmp_path / "studies.db"))
        kept = {}
        for part, samples, rate in (("reference", reference, RATE_HZ), ("capture", capture, rate_hz)):
            path = tmp_path / f"{part}.wav"
            soundfile.write(path, samples, rate, subtype="FLOAT")
            kept[part] = vars(store.audio.keep(path))
        store.start("club-amp", Event("started", {"sheet": sheet_to_tables(load_sheet(SHEET))}, AT))
        trial = {"trial": 1, "settings": SETTINGS, "match": 80.0}
        with store.writing():
            store.append("club-amp", Event("measured", {"trial": trial, "details": {**kept, **found}}, AT))
        return store

    return _keep


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_a_late_quiet_inverted_capture_comes_back_as_the_reference(keep: Keep, rate_hz: int) -> None:
    late_s = 0.25
    capture = np.concatenate([np.zeros(round(late_s * rate_hz)), -0.3 * sound(20.0, rate_hz)])
    with keep(sound(20.0), capture, rate_hz, delay_ms=1000 * late_s, polarity=-1, drift_ppm=0.0) as store:
        clips = excerpt(store, "club-amp", 1, Window(6.0, 5.0))
    apart = clips.reference - clips.capture
    assert clips.reference.shape == (5 * RATE_HZ, 1)
    assert np.sqrt(np.mean(apart**2)) < 2e-3 * np.sqrt(np.mean(clips.reference**2))
    assert clips.gains_db[1] - clips.gains_db[0] == pytest.approx(-20 * np.log10(0.3), abs=0.02)


def test_a_drifting_clock_is_followed(keep: Keep) -> None:
    drift = 150e-6
    time_s = np.arange(20 * RATE_HZ) / RATE_HZ / (1 + drift)
    capture = np.interp(time_s, np.arange(20 * RATE_HZ * 4) / RATE_HZ / 4, sound(20.0, 4 * RATE_HZ))
    with keep(sound(20.0), capture, RATE_HZ, delay_ms=0.0, polarity=1, drift_ppm=150.0) as store:
        clips = excerpt(store, "club-amp", 1, Window(12.0, 1.0))
        lag = np.fft.irfft(np.fft.rfft(clips.capture[:, 0]) * np.conj(np.fft.rfft(clips.reference[:, 0])))
    assert abs((int(np.argmax(lag)) + 24_000) % RATE_HZ - 24_000) <= 8


def test_without_a_start_the_loudest_part_is_taken(keep: Keep) -> None:
    with keep(sound(20.0), sound(20.0), RATE_HZ, delay_ms=0.0, polarity=1, drift_ppm=0.0) as store:
        assert excerpt(store, "club-amp", 1, Window(None, 4.0)).start_s == pytest.approx(8.0, abs=0.2)


def test_a_capture_that_starts_late_is_met_where_it_starts(keep: Keep) -> None:
    """The capture lacks its first half second: the clips begin where both have sound."""
    with keep(sound(20.0), sound(20.0)[RATE_HZ // 2 :], RATE_HZ, delay_ms=-500.0, polarity=1, drift_ppm=0.0) as store:
        clips = excerpt(store, "club-amp", 1, Window(0.0, 8.0))
    assert clips.start_s == pytest.approx(0.5)
    assert np.max(np.abs(clips.reference - clips.capture)) < 1e-3


def test_neither_clip_is_clipped_and_both_are_lowered_alike(keep: Keep) -> None:
    peaky = sound(10.0)
    peaky[5 * RATE_HZ] = 1.0
    with keep(6 * sound(10.0), peaky, RATE_HZ, delay_ms=0.0, polarity=1, drift_ppm=0.0) as store:
        clips = excerpt(store, "club-amp", 1, Window(3.0, 4.0))
    highest = max(float(np.abs(clip).max()) for clip in (clips.reference, clips.capture))
    assert highest == pytest.approx(10 ** (-1 / 20), rel=1e-3)


def test_what_cannot_be_heard_is_told(keep: Keep) -> None:
    silent = np.zeros(10 * RATE_HZ)
    silent[0] = 0.5
    with keep(sound(10.0), silent, RATE_HZ, delay_ms=0.0, polarity=1, drift_ppm=0.0) as store:
        with pytest.raises(BadInput, match="next to nothing"):
            excerpt(store, "club-amp", 1, Window(4.0, 2.0))
        with pytest.raises(BadUse, match=r"lasts 10\.0 s"):
            excerpt(store, "club-amp", 1, Window(11.0, 2.0))
        with pytest.raises(NotFound):
            excerpt(store, "club-amp", 2, Window())


def test_no_two_files_of_one_clip_are_the_same_bytes_yet_differ_by_three_steps_at_most(keep: Keep) -> None:
    with keep(sound(10.0), sound(10.0), RATE_HZ, delay_ms=0.0, polarity=1, drift_ppm=0.0) as store:
        clips = excerpt(store, "club-amp", 1, Window(4.0, 1.0))
    first, second = (clips.wav("reference", np.random.default_rng(seed)) for seed in (1, 2))
    assert first != second
    assert len(first) == len(second)
    heard = [soundfile.read(io.BytesIO(wav))[0] for wav in (first, second)]
    assert np.max(np.abs(heard[0] - heard[1])) <= 3 * 2.0**-23
