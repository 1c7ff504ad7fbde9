"""The disk fails at every call in turn: nothing acknowledged is lost, nothing is left half, every refusal is one line.

A C file stands between the program and its library (see `failing_disk.c`), so it needs Linux and a C compiler.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.storage.failing_disk import STEPS

ROOT = Path(__file__).parents[2]
COMPILER = shutil.which("cc") or shutil.which("gcc")


@pytest.fixture(scope="session")
def disk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The library that fails."""
    if COMPILER is None or not sys.platform.startswith("linux"):
        if os.environ.get("OPTIMISER_CI"):
            pytest.fail("a C compiler on Linux is needed")
        pytest.skip("a C compiler on Linux is needed")
    library = tmp_path_factory.mktemp("disk") / "failing_disk.so"
    source = Path(__file__).with_name("failing_disk.c")
    subprocess.run([COMPILER, "-shared", "-fPIC", "-O1", "-o", str(library), str(source), "-ldl"], check=True)
    return library


@pytest.mark.parametrize(
    "how",
    [
        pytest.param("kill", marks=pytest.mark.ci),
        pytest.param("full", marks=pytest.mark.ci),
        pytest.param("error", marks=pytest.mark.by_hand),
    ],
)
@pytest.mark.parametrize("step", STEPS)
def test_whichever_call_fails_nothing_is_lost_or_left_half(disk: Path, tmp_path: Path, step: str, how: str) -> None:
    words = [sys.executable, "-m", "tests.storage.failing_disk", step, how, str(tmp_path)]
    surroundings = {**os.environ, "LD_PRELOAD": str(disk)}
    child = subprocess.run(words, capture_output=True, text=True, check=False, cwd=ROOT, env=surroundings)
    assert child.returncode == 0, child.stderr[-3000:]
    assert int(child.stdout.split()[0]) > 20
    assert "'done'" in child.stdout
    assert ("'killed'" if how == "kill" else "'refused'") in child.stdout
    sys.stdout.write(f"{step}, {how}: {child.stdout}")
