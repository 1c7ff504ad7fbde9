"""How much time and memory a measurement takes, and how both grow with the length of the recordings.

    python -m tests.benchmarks.measuring_cost

Strings through a toy chain, the same take again and again until the recording is long enough, 48 kHz, 24 bit. Each
length is measured by a process of its own: once to warm up, then a few times on the clock. The memory is the most the
process ever held, Python and the libraries included. Run it on an idle machine; one thread is used.
"""

import os
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import numpy as np

from tests.benchmarks.match.chains import RATE_HZ, Chain, Sound
from tests.benchmarks.match.sources import source

LENGTHS: Final = ((30.0, 1, 7), (60.0, 1, 5), (120.0, 1, 3), (300.0, 1, 3), (1200.0, 1, 1), (1200.0, 2, 1))
"""Seconds, channels and number of timed runs."""

MEASURER: Final = """
import sys, time
from statistics import median
from optimiser.audio import open_recording
from optimiser.scoring import measure_sounds

def once():
    started = time.process_time()
    found = measure_sounds(open_recording(sys.argv[1]), open_recording(sys.argv[2]))
    return time.process_time() - started, found.match

once()
runs = [once() for _ in range(int(sys.argv[3]))]
lines = dict(line.split(":", 1) for line in open("/proc/self/status"))
megabytes = int(lines["VmHWM"].split()[0]) * 1024 / 1e6
spent = [seconds for seconds, _ in runs]
print(f"{median(spent):.3f} s of CPU (least {min(spent):.3f}), {megabytes:.0f} MB, match {runs[0][1]:.1f}")
"""


def write_looped(path: Path, take: Sound, seconds: float, channels: int) -> None:
    """Write a take over and over, the second channel 1 dB softer."""
    import soundfile

    rows = np.stack([take, 0.89 * take], axis=1)[:, :channels]
    left = round(seconds * RATE_HZ)
    with soundfile.SoundFile(path, "w", RATE_HZ, channels, "PCM_24") as file:
        while left:
            file.write(rows[:left])
            left -= min(left, len(rows))


def main() -> None:
    dry = source("reel").dry
    chain = Chain()
    takes = {"reference": chain.play(dry, 1), "capture": chain.driven(1.2).play(dry, 2)}
    one_thread = os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    with TemporaryDirectory() as folder:
        for seconds, channels, runs in LENGTHS:
            paths = [Path(folder) / f"{name}.wav" for name in takes]
            for path, take in zip(paths, takes.values(), strict=True):
                write_looped(path, take, seconds, channels)
            words = [sys.executable, "-c", MEASURER, *map(str, paths), str(runs)]
            said = subprocess.run(words, capture_output=True, text=True, check=True, env=one_thread).stdout.strip()
            print(f"{seconds:6.0f} s, {channels} channel{'s' * (channels > 1)}: {said}")  # noqa: T201


if __name__ == "__main__":
    main()
