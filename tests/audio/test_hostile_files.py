"""Whatever bytes stand in for a take: a measurement or one line, soon, in little memory, and the process lives on."""

import json
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from optimiser.audio import wav_bytes

ROOT = Path(__file__).parents[2]
LONGEST_CPU_S = 1.0
MOST_MB = 300.0

pytestmark = pytest.mark.skipif(os.name != "posix", reason="the guards on time and memory are those of POSIX")


def came_of(folder: Path, count: int) -> list[dict[str, Any]]:
    """What came of so many hostile files, all measured by one process, in which every warning is an error."""
    words = [sys.executable, "-W", "error", "-m", "tests.audio.hostile_worker", str(folder), str(count)]
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
    worker = subprocess.run(words, capture_output=True, text=True, cwd=ROOT, env=environment, check=False)
    assert (worker.returncode, worker.stderr) == (0, ""), worker.stdout[-500:]
    return [json.loads(line) for line in worker.stdout.splitlines()]


def check(files: list[dict[str, Any]], count: int) -> None:
    assert [file["number"] for file in files] == list(range(count))
    outcomes = Counter(file["outcome"] for file in files)
    assert outcomes["escaped"] == 0, [file for file in files if file["outcome"] == "escaped"]
    # both ends are reached: most files are beyond use, some are harmless
    assert outcomes["refused"] > count / 2
    assert outcomes["measured"] > count / 20
    assert [file for file in files if not file["said"].strip() or not file["said"].isprintable()] == []
    assert [file for file in files if file["cpu_s"] > LONGEST_CPU_S] == []
    assert max(file["peak_mb"] for file in files) < MOST_MB


def test_a_hundred_hostile_files(tmp_path: Path) -> None:
    check(came_of(tmp_path, 100), 100)


@pytest.mark.ci
def test_a_thousand_hostile_files(tmp_path: Path) -> None:
    check(came_of(tmp_path, 1000), 1000)


READ_WITH_LITTLE_MEMORY = """
import resource, sys
from optimiser.audio import open_recording
sound = open_recording(sys.argv[1])
import numpy, soundfile
held = int(open("/proc/self/statm").read().split()[0]) * resource.getpagesize()
resource.setrlimit(resource.RLIMIT_AS, (held + (32 << 20),) * 2)
print(sum(len(block) for block in sound.blocks()), sound.frames)
"""


def sparse_note(path: Path) -> int:
    """A note of 1.5 GB between form and sound."""
    content = wav_bytes(np.full((1000, 2), 0.25), 48_000)
    note = 1_500_000_000
    with path.open("wb") as file:
        file.write(content[:36] + b"LIST" + note.to_bytes(4, "little"))
        file.seek(note, os.SEEK_CUR)
        file.write(content[36:])
    return 1000


def sparse_sound(path: Path) -> int:
    """Twenty minutes of silence in stereo, 345 MB."""
    frames = 20 * 60 * 48_000
    header = bytearray(wav_bytes(np.zeros((1, 2)), 48_000)[:44])
    header[40:44] = (frames * 6).to_bytes(4, "little")
    path.write_bytes(header)
    os.truncate(path, 44 + frames * 6)
    return frames


@pytest.mark.skipif(sys.platform != "linux", reason="how much a process holds is read as Linux tells it")
@pytest.mark.parametrize("make", [sparse_note, sparse_sound])
def test_large_files_are_gone_through_within_32_megabytes(make: Callable[[Path], int], tmp_path: Path) -> None:
    path = tmp_path / "large.wav"
    frames = make(path)
    words = [sys.executable, "-c", READ_WITH_LITTLE_MEMORY, str(path)]
    said = subprocess.run(words, capture_output=True, text=True, cwd=ROOT, check=False)
    assert said.stdout.split() == [str(frames)] * 2, said.stderr
