"""What the README shows is what the commands print."""

import re
from collections.abc import Callable
from pathlib import Path
from textwrap import dedent

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from optimiser.cli.commands import app
from optimiser.study import load_sheet

README = (Path(__file__).parents[2] / "README.md").read_text()
NUMBER = r"-?\d+(?:\.\d+)?"


def sheet_of_the_tour() -> str:
    return dedent(re.findall(r"((?:    .*\n|\n)*)", README.split("`club-combo.toml`:\n")[1])[0])


def shown(command: str) -> str:
    """What stands below a command of the tour, up to the next command or the end of the block."""
    block = README.split(f"    $ optimiser {command}\n")[1]
    lines = re.match(r"(?:    (?!\$).*\n|\n(?=    ))*", block)
    assert lines is not None
    return dedent(lines[0]).strip()


def played(dry: NDArray[np.float64], drive: float, corner_hz: float) -> NDArray[np.float64]:
    """The reel through a clipper and a low-pass of second order: what the tour calls an amp and its capture."""
    hertz = np.fft.rfftfreq(dry.size, 1 / 48_000) / corner_hz
    low_pass = 1 / (1 + 1.4j * hertz - hertz**2)
    return np.asarray(0.3 * np.fft.irfft(np.fft.rfft(np.tanh(drive * dry)) * low_pass, dry.size))


def record_the_tour() -> None:
    dry, rate_hz = soundfile.read("proof.wav")
    hiss = 1e-4 * np.random.default_rng(1).normal(size=dry.size)
    for name, drive, corner_hz in (("reference-1", 6.0, 4500.0), ("capture-1", 8.0, 3900.0), ("goal", 5.0, 5200.0)):
        soundfile.write(f"{name}.wav", played(dry, drive, corner_hz) + hiss, rate_hz, subtype="PCM_24")


def assert_says(said: str, readme: str) -> None:
    """The same words, and figures that agree as far as two machines do; a bar says what the figure beside it says."""
    said, readme = (re.sub(r"[#.]{30}", "bar", text) for text in (said, readme))
    assert re.sub(NUMBER, "0", " ".join(said.split())) == re.sub(NUMBER, "0", " ".join(readme.split()))
    figures, printed = ([float(number) for number in re.findall(NUMBER, text)] for text in (said, readme))
    assert figures == pytest.approx(printed, rel=0.02, abs=0.11)


def test_the_tour_prints_what_the_readme_says(
    say: Callable[..., str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("club-combo.toml").write_text(sheet_of_the_tour())
    for command in ("start club-combo.toml", "reel club-combo --kind proof --out proof.wav"):
        assert say(*command.split()).strip() == shown(command)
    record_the_tour()
    assert say("goal", "club-combo", "goal.wav").strip() == shown("goal club-combo goal.wav")
    assert say("next", "club-combo").strip() == shown("next club-combo")
    command = "take club-combo reference-1.wav capture-1.wav --reading 5.9"
    assert_says(say(*command.split()), shown(command))
    command = "measure reference-1.wav capture-1.wav --figure pair.png"
    excerpt = shown(command)
    said = say(*command.split())
    assert_says(said[said.index(excerpt.split("\n")[0]) :], excerpt)
    assert Path("pair.png").is_file()


def test_the_sheet_of_the_tour_has_no_fault() -> None:
    assert load_sheet(sheet_of_the_tour()).name == "club-combo"


def test_every_command_that_the_readme_names_exists() -> None:
    named = set(re.findall(r"optimiser ([a-z][a-z-]+)", README.split("## In Python")[0])) - {"rehearse"}
    named = {name for name in named if f"`optimiser {name}" in README or f"$ optimiser {name}" in README}
    known = {
        (command.name or command.callback.__name__).replace("_", "-")
        for command in app.registered_commands
        if command.callback
    }
    assert named <= known
