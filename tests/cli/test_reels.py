"""Reels that are written from a terminal: with a sweep, and of a length that shows enough."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

Ask = Callable[..., Any]
Say = Callable[..., str]


def test_a_reel_with_a_sweep_holds_it_and_can_be_measured(ask: Ask, sheet: Path, tmp_path: Path) -> None:
    ask("start", sheet)
    plain = ask("reel", "club-amp", "--out", tmp_path / "plain.wav")["reel"]
    swept = ask("reel", "club-amp", "--sweep", "--out", tmp_path / "swept.wav")
    assert [passage["kind"] for passage in swept["reel"]["layout"]["passages"]][-2:] == ["sweep", "rest"]
    assert swept["reel"]["seconds"] == pytest.approx(plain["seconds"] + 4.3)
    assert swept["remarks"] == []
    ask("next", "club-amp")
    assert ask("take", "club-amp", tmp_path / "swept.wav", tmp_path / "swept.wav")["match"] > 99
    assert (
        "--kind proof"
        in ask("reel", "club-amp", "--sweep", "--kind", "learning", "--out", "x", code=2)["error"]["hint"]
    )


def test_a_reel_that_is_too_short_is_said_to_be(
    say: Say, sheet: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for riff in ("chugs", "held chord", "run", "two-note"):
        sound = 0.2 * np.random.default_rng(1).uniform(-1, 1, 24_000)
        soundfile.write(tmp_path / f"{riff}.wav", sound, 48_000)
    say("start", sheet)
    said = say("reel", "club-amp", "--riffs", ".", "--out", "proof.wav")
    assert "20 to 30 s show more." in said


def test_riffs_listed_in_another_order_make_no_other_proof_reel(ask: Ask, sheet: Path, tmp_path: Path) -> None:
    ask("start", sheet)
    before = ask("reel", "club-amp", "--out", tmp_path / "before.wav")["reel"]
    sheet.write_text(sheet.read_text().replace('["chugs", "held chord",', '["held chord", "chugs",'))
    assert ask("start", sheet)["changed"]
    assert ask("reel", "club-amp", "--out", tmp_path / "after.wav")["reel"] == before
