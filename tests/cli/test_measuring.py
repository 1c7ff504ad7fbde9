"""measure: what it prints, what it draws, and how it refuses."""

import re
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from optimiser.scoring import Measurement

Ask = Callable[..., Any]
Say = Callable[..., str]
Pair = tuple[Path, Path]


def test_everything_stands_in_the_document(ask: Ask, recordings: Pair) -> None:
    told = ask("measure", *recordings, "--goal", recordings[0])
    assert set(told) == {field.name for field in fields(Measurement)}
    assert told["goal"] == pytest.approx(told["match"])
    assert set(told["familiar"]) >= {"esr", "null_depth_db", "mr_stft", "loudness_difference_lu", "true_peak_dbtp"}
    assert all(0 <= passage["match"] <= 100 for passage in told["passages"])


def test_the_lines_say_what_the_document_says(ask: Ask, say: Say, recordings: Pair) -> None:
    told, said = (
        ask("measure", *recordings, "--goal", recordings[0]),
        say("measure", *recordings, "--goal", recordings[0]),
    )
    assert f"Match         {told['match']:.1f} +-{1.645 * told['match_se']:.1f} of 100" in said
    assert f"Goal          {told['goal']:.1f} +-" in said
    assert f"{100 * told['articulation_kept']:.0f} % kept" in said
    for part in told["parts"]:
        assert re.search(rf"^  {part['name']} +[#.]{{30}}  {part['steps']:.1f}$", said, re.MULTILINE)
    for passage in told["passages"]:
        assert re.search(
            rf"^  {passage['name']} +{passage['start_s']:.1f} s +{passage['match']:.0f}\b", said, re.MULTILINE
        )
    flowing = " ".join(said.split())
    assert all(sentence in flowing for sentence in (*told["advice"], *told["warnings"]))
    familiar = told["familiar"]
    for label, figure in (
        ("(ESR), A-weighted", f"{familiar['esr']:.3f}"),
        ("null depth", f"{familiar['null_depth_db']:.1f} dB"),
        ("(MR-STFT)", f"{familiar['mr_stft']:.3f}"),
        ("loudness, capture less reference", f"{familiar['loudness_difference_lu']:.1f} LU"),
        ("true peak of the reference", f"{familiar['reference_true_peak_dbtp']:.1f} dBTP"),
        ("true peak of the capture", f"{familiar['true_peak_dbtp']:.1f} dBTP"),
    ):
        assert f"{label} {figure}" in flowing
    assert said.rstrip().endswith("no listening panel stands behind it yet.")


def test_one_passage_of_several_is_the_weakest(ask: Ask, say: Say, recordings: Pair) -> None:
    passages = ask("measure", *recordings)["passages"]
    marked = [line for line in say("measure", *recordings).splitlines() if line.endswith("weakest")]
    if len(passages) < 2:
        assert marked == []
        return
    (line,) = marked
    assert line.split("  ")[1] == min(passages, key=lambda passage: passage["match"])["name"]


def test_late_quiet_and_the_right_way_up(say: Say, recordings: Pair) -> None:
    """The capture of the test pair is 137 samples late and quieter; its low-pass adds two samples."""
    said = " ".join(say("measure", *recordings).split())
    late = re.search(r"the capture was ([\d.]+) ms late, ([\d.]+) dB quieter", said)
    assert late is not None
    assert float(late[1]) == pytest.approx(1000 * 139 / 48_000, abs=0.05)
    assert "upside down" not in said
    back = " ".join(say("measure", *reversed(recordings)).split())
    assert re.search(r"the capture was [\d.]+ ms early, [\d.]+ dB louder", back)


@pytest.mark.parametrize(("name", "start"), [("pair.png", b"\x89PNG"), ("new/pair.SVG", b"<svg")])
def test_a_figure_is_drawn_by_its_ending(
    ask: Ask, say: Say, recordings: Pair, tmp_path: Path, name: str, start: bytes
) -> None:
    path = tmp_path / name
    assert ask("measure", *recordings, "--figure", path)["figure"] == str(path)
    drawn = path.read_bytes()
    assert drawn.startswith(start)
    assert "Figure:" in say("measure", *recordings, "--figure", path)
    assert path.read_bytes() == drawn


@pytest.mark.parametrize("name", ["pair.pdf", "pair", ".png", "reference.wav"])
def test_a_figure_of_another_kind_is_bad_use(ask: Ask, recordings: Pair, tmp_path: Path, name: str) -> None:
    error = ask("measure", *recordings, "--figure", tmp_path / name, code=2)["error"]
    assert error["code"] == "bad_use"
    assert name in error["message"]
    assert ".png" in error["hint"]
    assert list(tmp_path.glob("pair*")) == []


def test_a_place_that_cannot_be_written_is_a_storage_error(
    ask: Ask, say: Say, recordings: Pair, tmp_path: Path
) -> None:
    (tmp_path / "folder.png").mkdir()
    (tmp_path / "file").write_text("in the way")
    assert ask("measure", *recordings, "--figure", tmp_path / "folder.png", code=5)["error"]["code"] == "storage"
    said = say("measure", *recordings, "--figure", tmp_path / "file" / "pair.png", code=5)
    assert said.strip().endswith("\nName a place that you may write to.")
    assert (tmp_path / "file").read_text() == "in the way"


def test_a_missing_or_damaged_recording_is_refused_and_nothing_is_drawn(
    ask: Ask, recordings: Pair, tmp_path: Path
) -> None:
    damaged = tmp_path / "damaged.wav"
    damaged.write_bytes(recordings[1].read_bytes()[:5000])
    picture = tmp_path / "pair.png"
    assert ask("measure", recordings[0], tmp_path / "none.wav", "--figure", picture, code=4)["error"]
    assert ask("measure", recordings[0], damaged, "--figure", picture, code=3)["error"]["code"] == "bad_recording"
    assert not picture.exists()


def test_the_review_holds_the_reading_against_the_scores(ask: Ask, say: Say, sheet: Path) -> None:
    ask("start", sheet)
    riffs = ["--set", "stage=open", "--set", "mic=cap", "--set", "riffs=run,chugs,two-note,held chord"]
    for place in range(6):
        if place == 5:
            (relation,) = ask("review", "club-amp")["reading_relation"]
            assert (relation["figure"], relation["trials"], relation["verdict"]) == ("overall", 5, "too few")
            assert relation["shown"] == "too few trials (5 of 6)"
        gain = ["--set", f"gain={9 + place}:00"]
        ask("log", "club-amp", *gain, *riffs, "--overall", 50 + place, "--reading", 4 + place / 2)
    (relation,) = ask("review", "club-amp")["reading_relation"]
    assert relation["correlation"] == pytest.approx(1.0)
    said = say("review", "club-amp")
    assert relation["shown"] in said
    assert "Shown, never assumed" in said
