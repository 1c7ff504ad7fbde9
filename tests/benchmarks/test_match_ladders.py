"""Faults have the size they are called by, a case's sound repeats, and the figures are what they say."""

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.stats import spearmanr

from tests.benchmarks.match import cases, haaqi_loops, outside, report, sections
from tests.benchmarks.match.cases import Case, case_of, compared_outside, pair_of
from tests.benchmarks.match.chains import RATE_HZ, Chain, Sound
from tests.benchmarks.match.codecs import CODECS
from tests.benchmarks.match.faults import ALL_PASS, FAMILIES, RING_S, Playing, folded, loud_rms, ringing_tail
from tests.benchmarks.match.figures import Judged, Ladder, ladders_of, spearman
from tests.benchmarks.match.figures import joined as both_tables
from tests.benchmarks.match.ladders import PARTS, named
from tests.benchmarks.match.nuisances import NUISANCES, delayed, drifted
from tests.benchmarks.match.sources import CLIPS_FOLDER, missing, rises, source
from tests.benchmarks.match.sources import joined as joined_clips
from tests.benchmarks.match.unseen import UNSEEN

FAMILY = {family.name: family for family in (*FAMILIES, ALL_PASS, *UNSEEN)}


@dataclass(frozen=True)
class Wire(Chain):
    """A chain that changes nothing, so that a fault can be seen alone."""

    def play(self, dry: Sound, seed: int = 1) -> Sound:  # noqa: ARG002
        return dry.copy()


def on_a_wire(dry: Sound, *starts: int) -> Playing:
    return Playing(dry, starts, Wire(), 7)


def sine(hertz: float, level: float = 0.5, seconds: float = 2.0) -> Sound:
    return np.asarray(level * np.sin(2 * np.pi * hertz * np.arange(round(seconds * RATE_HZ)) / RATE_HZ))


def decibels(ratio: float | np.floating) -> float:
    return 20.0 * math.log10(float(ratio))


def answer(name: str, size: float, hertz: int) -> complex:
    """A family's filter at a whole number of hertz, from its answer to an impulse in the middle of a second."""
    impulse = np.zeros(RATE_HZ)
    impulse[RATE_HZ // 2] = 1.0
    answered = FAMILY[name].apply(on_a_wire(impulse), size)
    return complex(np.fft.rfft(np.roll(answered, -RATE_HZ // 2))[hertz])


@pytest.mark.parametrize(
    ("name", "size", "hertz", "gain_db"),
    [
        ("tilt", 6, 2000, 6 / 5),
        ("tilt", 6, 250, -2 * 6 / 5),
        ("thin", 8, 2, -8),
        ("thin", 8, 20_000, 0),
        ("harsh", 4, 4000, 4),
        ("harsh", 4, 60, 0),
        ("notch", 12, 1000, -12),
        ("notch", 12, 100, 0),
        ("low-pass", 3500, 3500, 2 * decibels(1 / math.sqrt(2))),
        ("boomy", 8, 110, 8),
        ("reflection", -6, 1000, decibels(1 - 10 ** (-6 / 20))),
        ("reflection", -6, 2000, decibels(1 + 10 ** (-6 / 20))),
        ("all-pass", 700, 100, 0),
        ("high-pass", 250, 250, decibels(1 / math.sqrt(2))),
        ("high-pass", 250, 5000, 0),
        ("resonance", 6, 2200, 6),
        ("smear", 30, 1000, 0),
        ("all-pass", 700, 5000, 0),
    ],
)
def test_filters_have_the_gain_they_are_called_by(name: str, size: float, hertz: int, gain_db: float) -> None:
    """Closed forms; half a millisecond cancels at 1 kHz and doubles at 2 kHz."""
    assert decibels(abs(answer(name, size, hertz))) == pytest.approx(gain_db, abs=0.05)


def test_an_all_pass_turns_a_quarter_at_its_frequency() -> None:
    assert np.angle(answer("all-pass", 700, 700)) == pytest.approx(-np.pi / 2, abs=0.02)


@pytest.mark.parametrize("ratio_db", FAMILY["noise"].sizes)
def test_noise_has_the_ratio_it_is_called_by(ratio_db: float) -> None:
    dry = sine(440.0)
    noise = FAMILY["noise"].apply(on_a_wire(dry), ratio_db) - dry
    assert decibels(loud_rms(dry) / np.std(noise)) == pytest.approx(ratio_db, abs=0.1)


@pytest.mark.parametrize("ratio", FAMILY["compression"].sizes)
def test_a_step_of_20_db_comes_out_of_the_compressor_as_20_over_the_ratio(ratio: float) -> None:
    steps = np.concatenate([sine(480.0, 0.5), sine(480.0, 0.05)])
    out = FAMILY["compression"].apply(on_a_wire(steps), ratio)
    loud, soft = np.std(out[24_000:72_000]), np.std(out[120_000:168_000])
    assert decibels(loud / soft) == pytest.approx(20.0 / ratio, abs=0.05)


def test_a_gate_closes_below_its_threshold_only() -> None:
    """25 dB below the loudest is below a threshold of -20 dB and above one of -30 dB."""
    steps = np.concatenate([sine(480.0, 0.5), sine(480.0, 0.5 * 10 ** (-25 / 20))])
    soft = slice(120_000, 168_000)
    assert not FAMILY["gate"].apply(on_a_wire(steps), -20)[soft].any()
    np.testing.assert_allclose(FAMILY["gate"].apply(on_a_wire(steps), -30)[soft], steps[soft], atol=1e-12)


@pytest.mark.parametrize("size_db", FAMILY["soft attack"].sizes)
def test_a_soft_attack_lowers_the_first_20_ms_alone(size_db: float) -> None:
    dry, start = sine(1000.0), RATE_HZ
    ratio = np.abs(FAMILY["soft attack"].apply(on_a_wire(dry, start), size_db)) / np.maximum(np.abs(dry), 1e-9)
    crest = np.arange(12, dry.size, 48)
    gain_db = {int(place - start): decibels(ratio[place]) for place in crest}
    assert gain_db[12] == pytest.approx(-size_db, abs=0.01)
    assert gain_db[12 + 14 * 48] == pytest.approx(-size_db, abs=0.01)
    assert gain_db[12 + 26 * 48] == pytest.approx(0, abs=0.01)
    assert gain_db[12 - 11 * 48] == pytest.approx(0, abs=0.01)


@pytest.mark.parametrize("size_db", FAMILY["hard clip"].sizes)
def test_flat_tops_lie_as_far_below_the_peak_as_they_say(size_db: float) -> None:
    out = FAMILY["hard clip"].apply(on_a_wire(sine(480.0)), size_db)
    assert decibels(np.max(np.abs(out)) / 0.5) == pytest.approx(-size_db, abs=1e-6)
    assert np.count_nonzero(np.abs(out) == np.max(np.abs(out))) > 100


@pytest.mark.parametrize("size_db", FAMILY["rings on"].sizes)
def test_the_ringing_tail_has_its_energy_and_dies_away_in_time(size_db: float) -> None:
    """Energy of exp(-t/T) within two of its T: 1 - exp(-4) of the whole."""
    energy = np.cumsum(ringing_tail(size_db, 3) ** 2)
    assert 10 * math.log10(energy[-1]) == pytest.approx(size_db, abs=1e-6)
    assert energy[round(RING_S * RATE_HZ)] / energy[-1] == pytest.approx(1 - math.exp(-2), abs=0.02)


def test_folding_moves_7_khz_to_5_khz_and_leaves_3_khz_alone() -> None:
    """Every fourth sample is 12 kHz; 12 - 7 = 5."""
    spectrum = np.abs(np.fft.rfft(folded(sine(7000.0, seconds=1.0))[4800:-4800]))
    assert np.argmax(spectrum) * RATE_HZ / (RATE_HZ - 9600) == pytest.approx(5000, abs=2)
    assert np.max(np.abs(folded(sine(3000.0, seconds=1.0))[4800:-4800])) < 1e-3


@pytest.mark.parametrize("size_db", FAMILY["aliasing"].sizes)
def test_aliasing_lies_as_far_below_the_sound_as_it_says(size_db: float) -> None:
    playing = Playing(sine(1234.0, 0.4), (), replace(Chain(), noise_db=-150.0), 7)
    products = FAMILY["aliasing"].apply(playing, size_db) - playing.sound
    assert decibels(loud_rms(products) / loud_rms(playing.sound)) == pytest.approx(size_db, abs=0.1)


def test_an_octave_is_a_sine_folded_up() -> None:
    """Fourier series of |sin|: even harmonics n as 1 / (n^2 - 1)."""
    mixed = FAMILY["octave"].apply(on_a_wire(sine(480.0, seconds=1.0)), -10) - sine(480.0, seconds=1.0)
    spectrum = np.abs(np.fft.rfft(mixed))
    assert np.argmax(spectrum) == 960
    assert spectrum[1920] / spectrum[960] == pytest.approx((1 / 15) / (1 / 3), rel=1e-2)


def test_a_wobble_shifts_the_pitch_by_its_cents() -> None:
    out = FAMILY["wobble"].apply(on_a_wire(sine(1000.0)), 20)
    crossings = np.flatnonzero((out[:-1] < 0) & (out[1:] >= 0))
    exact = crossings - out[crossings] / (out[crossings + 1] - out[crossings])
    hertz = RATE_HZ / np.diff(exact)[20:-20]
    assert 1200 * np.log2(hertz.max() / 1000) == pytest.approx(20, abs=0.5)
    assert 1200 * np.log2(hertz.min() / 1000) == pytest.approx(-20, abs=0.5)


@pytest.mark.parametrize("size_db", FAMILY["limiter"].sizes)
def test_a_limiter_keeps_peaks_below_its_top(size_db: float) -> None:
    out = FAMILY["limiter"].apply(on_a_wire(sine(480.0)), size_db)
    assert decibels(np.max(np.abs(out[4800:-4800])) / 0.5) == pytest.approx(-size_db, abs=0.1)


def test_nothing_comes_through_round_zero() -> None:
    out = FAMILY["crossover"].apply(on_a_wire(sine(480.0)), 0.3)
    assert np.mean(out == 0) == pytest.approx(2 / np.pi * np.arcsin(0.3 / math.sqrt(2)), abs=0.01)


@pytest.mark.parametrize("ppm", [-180.0, 30.0, 100.0])
def test_a_faster_clock_takes_more_samples_of_the_same(ppm: float) -> None:
    out = drifted(sine(1000.0, seconds=4.0), ppm)
    assert out.size == pytest.approx(4 * RATE_HZ * (1 + ppm * 1e-6), abs=1)
    places = np.arange(4800, out.size - 4800)
    expected = 0.5 * np.sin(2 * np.pi * 1000.0 * places / (RATE_HZ * (1 + ppm * 1e-6)))
    np.testing.assert_allclose(out[places], expected, atol=1e-4)


@pytest.mark.parametrize("samples", [3.37, 1234.5, -777.25])
def test_a_delay_is_that_many_samples(samples: float) -> None:
    out = delayed(sine(1000.0) * np.hanning(2 * RATE_HZ), samples)
    places = np.arange(4800, out.size - 4800)
    at = places - samples
    window = 0.5 - 0.5 * np.cos(2 * np.pi * at / (2 * RATE_HZ - 1))
    np.testing.assert_allclose(out[places], 0.5 * window * np.sin(2 * np.pi * 1000.0 * at / RATE_HZ), atol=1e-5)


def test_every_nuisance_has_a_bar_and_the_widest_drift_a_lower_one() -> None:
    assert {nuisance.least_score for nuisance in NUISANCES} == {99.5, 99.0}
    assert [nuisance.name for nuisance in NUISANCES if nuisance.least_score == 99.0] == [
        "drift -180 ppm", "drift 180 ppm"
    ]  # fmt: skip


def test_codecs_lose_the_more_the_lower_their_rate() -> None:
    sound = source("reel-short").dry[RATE_HZ : 2 * RATE_HZ]
    for codec in CODECS:
        told = [codec.coded(sound, level) for level in codec.levels]
        rates_kbps = [rate for _, rate in told]
        errors = [float(np.std(coded[: sound.size] - sound[: coded.size])) for coded, _ in told]
        assert rates_kbps == sorted(rates_kbps, reverse=True)
        assert errors[0] < errors[-1] < 0.5 * np.std(sound)


@pytest.mark.parametrize("name", ["reel-short/6/rings on/-24", "reel-short/6/aliasing/-25"])
def test_a_case_sounds_the_same_every_time_and_as_it_did_when_it_was_measured(name: str) -> None:
    first = pair_of(case_of(name))
    cases.reference_of.cache_clear()
    again = pair_of(case_of(name))
    np.testing.assert_array_equal(first.reference, again.reference)
    np.testing.assert_array_equal(first.capture, again.capture)
    stored = {row["id"]: row for row in outside.read(outside.FOLDER / "cases.csv")}
    assert first.capture_dbfs == pytest.approx(float(stored[name]["capture_dbfs"]), abs=1e-3)


def test_another_case_draws_other_noise() -> None:
    quiet, loud = (pair_of(Case("reel-short", 6.0, "noise", size)).capture for size in ("60", "40"))
    clean = pair_of(Case("reel-short", 6.0, "nuisance", "other hiss")).capture
    assert abs(np.corrcoef(quiet - clean, loud - clean)[0, 1]) < 0.01


def test_the_compared_cases_are_many_and_of_every_kind() -> None:
    compared = compared_outside()
    assert len({case.id for case in compared}) == len(compared)
    assert all(case_of(case.id) == case for case in compared)
    assert sum(not case.noisy and not case.coded for case in compared) >= 75
    assert sum(case.noisy for case in compared) >= 20
    assert sum(case.coded for case in compared) == sum(len(codec.levels) for codec in CODECS)
    assert len({(case.source, case.drive) for case in compared if not case.unseen}) == 9
    assert {case.family for case in compared if case.unseen} == {family.name for family in UNSEEN}


def test_note_starts_of_a_take_are_found_where_they_are() -> None:
    starts_s = (0.8, 1.4, 1.9, 2.6)
    dry = np.random.default_rng(1).normal(size=4 * RATE_HZ) * 1e-4
    for start_s in starts_s:
        first = round(start_s * RATE_HZ)
        dry[first:] += sine(196.0, 0.3, 4.0)[: dry.size - first] * np.exp(-np.arange(dry.size - first) / 9600)
    np.testing.assert_allclose(np.array(rises(dry)) / RATE_HZ, starts_s, atol=0.006)


def test_clips_are_joined_with_rests_to_the_limit() -> None:
    take = joined_clips([np.ones(20 * RATE_HZ), np.ones(RATE_HZ)], 12.0)
    assert take.size < 12 * RATE_HZ
    assert not take[: RATE_HZ // 2].any()
    assert not take[-round(0.7 * RATE_HZ) :].any()


def test_a_source_that_is_not_there_is_left_out_with_a_reason() -> None:
    assert CLIPS_FOLDER in (missing("clips", {CLIPS_FOLDER: "/nowhere"}) or "")
    assert missing("reel", {}) is None


def test_plain_distances_of_a_doubled_sound() -> None:
    """Twice as loud: spectral convergence 1, log magnitude ln 2; .9 r has an error of .01 (both by hand)."""
    sound = np.random.default_rng(2).normal(size=RATE_HZ)
    assert outside.mr_stft(sound, sound) == 0
    assert outside.mr_stft(sound, 2 * sound) == pytest.approx(1 + math.log(2), abs=1e-6)
    assert outside.error_to_signal(sound, 0.9 * sound) == pytest.approx(0.01)


def test_quick_loops_of_haaqi_on_sounds_whose_answer_is_known() -> None:
    """A constant stays; a sound covaries fully with itself upside down; half a millisecond is looked for and found."""
    np.testing.assert_allclose(haaqi_loops.env_smooth(np.full((2, 24_000), 3.0), 8, 24_000), 3.0)
    sound = np.random.default_rng(4).normal(size=(1, 24_012))
    covariance, real, copy = haaqi_loops.bm_covary(sound[:, :24_000], -0.5 * sound[:, :24_000], 16, 24_000)
    np.testing.assert_allclose(covariance, 1.0, atol=1e-9)
    np.testing.assert_allclose(real, 4 * copy)
    late, *_ = haaqi_loops.bm_covary(sound[:, :24_000], sound[:, 12:], 16, 24_000)
    assert np.mean(late[0, 1:-1]) > 0.9
    lost, *_ = haaqi_loops.bm_covary(sound[:, :24_000], np.roll(sound, 5000, axis=1)[:, :24_000], 16, 24_000)
    assert np.mean(lost) < 0.4


def judged(name: str, score: float, haaqi: float = 0.5) -> Judged:
    return Judged(case_of(name), score, "", None, {}, {"haaqi": haaqi}, None, -20.0)


def test_rank_correlation_is_scipys() -> None:
    one, other = np.random.default_rng(3).integers(0, 9, size=(2, 40)).astype(np.float64)
    assert spearman(one, other) == pytest.approx(spearmanr(one, other).statistic)


def test_a_ladder_knows_its_rise_and_spread() -> None:
    sizes = FAMILY["thin"].sizes
    steps = [judged(f"reel/6/thin/{size:g}", score) for size, score in zip(sizes, (99, 95, 96.5, 80), strict=True)]
    ladder = next(ladders_of(steps))
    assert isinstance(ladder, Ladder)
    assert (ladder.rise, ladder.riser, ladder.spread) == (1.5, "reel/6/thin/4", 19)
    assert "reel/6/thin/4" in sections.falls([ladder]).text
    assert not list(ladders_of(steps[1:]))


def test_words_name_a_fault_whatever_their_case() -> None:
    assert named(FAMILY["compression"].words, "Too compressed: 10 dB of playing becomes 7.8 dB.")
    assert named(FAMILY["compression"].words, "Too lively: 10 dB of playing becomes 11.0 dB.") is False
    assert named(FAMILY["notch"].words, "Dip at 1000 Hz, by up to 2.6 dB.")
    assert named(FAMILY["notch"].words, "Dip at 500 Hz, by up to 2.6 dB.") is False
    assert named(None, "anything") is None


def test_outside_figures_of_another_sound_are_left_aside() -> None:
    columns = ("score", *PARTS, "esr", "first_advice", "named", "codec_kbps")
    ours = dict.fromkeys(columns, "") | {"id": "reel/6/thin/4"}
    others = [{"id": "reel/6/thin/4", "haaqi": "0.9", "capture_dbfs": "-20.5"}]
    assert both_tables([ours | {"capture_dbfs": "-20.5"}], others)[0].outside["haaqi"] == 0.9
    assert both_tables([ours | {"capture_dbfs": "-20.6"}], others)[0].outside == {}


def test_the_report_rewrites_its_own_part_alone() -> None:
    page = f"before\n{report.BEGIN}\nold\n{report.END}\nafter\n"
    once = report.rewritten(page, "new")
    assert once == f"before\n{report.BEGIN}\n\nnew\n\n{report.END}\nafter\n"
    assert report.rewritten(once, "new") == once


def test_the_readme_is_what_the_tables_say() -> None:
    page = (outside.FOLDER / "README.md").read_text(encoding="utf-8")
    stored = both_tables(outside.read(outside.FOLDER / "cases.csv"), outside.read(outside.FOLDER / "outside.csv"))
    seen = [one for one in stored if not one.case.unseen]
    for section in (sections.falls(list(ladders_of(seen))), sections.names(seen), sections.nuisances(seen)):
        assert section.text in page


@pytest.mark.by_hand
@pytest.mark.parametrize("name", ["reel-short/6/low-pass/3500", "riffs-short/10/sag/3"])
def test_haaqi_is_what_was_stored(name: str) -> None:
    pytest.importorskip("clarity", reason="needs the listening extra")
    stored = {row["id"]: row for row in outside.read(outside.FOLDER / "outside.csv")}
    pair = pair_of(case_of(name))
    told = outside.figures(pair.reference, pair.capture)
    assert told["haaqi"] == pytest.approx(float(stored[name]["haaqi"]), abs=1e-3)
    assert told["mfcc"] == pytest.approx(float(stored[name]["mfcc"]), rel=1e-3)
