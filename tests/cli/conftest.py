"""A store of its own for every test, a sheet, and recordings that nothing of ours made."""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from optimiser.cli import run

SHEET = """
[study]
name = "club-amp"
timezone = "Europe/Lisbon"

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
    { name = "cap", radial_mm = 0, distance_mm = 25, angle_deg = 0 },
    { name = "cap edge", radial_mm = 22, distance_mm = 25, angle_deg = 0 },
    { name = "rim", radial_mm = 90, distance_mm = 40, angle_deg = 30 },
]

[settings.riffs]
kind = "riff order"
riffs = ["chugs", "held chord", "run", "two-note"]

[reading]
"""


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "sheet.toml"
    path.write_text(SHEET)
    return path


@pytest.fixture(autouse=True)
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "optimiser.db"
    monkeypatch.setenv("OPTIMISER_STORE", f"sqlite:///{path}")
    return path


@pytest.fixture
def ask(capsys: pytest.CaptureFixture[str]) -> Callable[..., Any]:
    """Run a command with --json and give its document; the exit code is checked."""

    def _ask(*words: object, code: int = 0) -> Any:
        capsys.readouterr()
        assert run([*map(str, words), "--json"]) == code, capsys.readouterr()
        said = capsys.readouterr().out
        document = json.loads(said)
        assert ("error" in document) == (code != 0)
        return document

    return _ask


@pytest.fixture
def say(capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    """Run a command for people and give what stands on stdout, or on stderr where it fails.

    No line is wider than a terminal but for a path or command that stands alone, so that it can be copied.
    """

    def _say(*words: object, code: int = 0) -> str:
        capsys.readouterr()
        assert run([*map(str, words)]) == code, capsys.readouterr()
        said = capsys.readouterr()
        text = said.out if code == 0 else said.err
        assert "Traceback" not in said.out + said.err
        wide = [line for line in (said.out + said.err).splitlines() if len(line) > 80]
        assert all(re.fullmatch(r"  (optimiser |\S.*/).*|\S*/\S*", line) for line in wide), wide
        return text

    return _say


@pytest.fixture(scope="session")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Four seconds of decaying noise bursts, and the same through a mild low-pass, later and quieter."""
    folder = tmp_path_factory.mktemp("recordings")
    rng = np.random.default_rng(7)
    rate_hz = 48_000
    sound = np.zeros(4 * rate_hz)
    for start in range(0, 7 * rate_hz // 2, rate_hz // 2):
        burst = rng.normal(size=rate_hz // 3) * np.exp(-np.arange(rate_hz // 3) / 3000)
        sound[start : start + burst.size] += 0.2 * burst
    dull = np.convolve(sound, [0.1, 0.25, 0.3, 0.25, 0.1])[: sound.size]
    paths = folder / "reference.wav", folder / "capture.wav"
    soundfile.write(paths[0], sound, rate_hz, subtype="PCM_24")
    soundfile.write(paths[1], np.roll(0.5 * dull, 137), rate_hz, subtype="PCM_16")
    return paths
