"""How much memory and time it takes to go through a long recording, by kind of file.

    python -m tests.benchmarks.reading_memory [MINUTES]

Each kind is read by a process of its own, which says the most it ever held, Python and numpy included.
"""

import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import numpy as np

RATE_HZ: Final = 48_000
KINDS: Final = (("wav", "PCM_24"), ("wav", "FLOAT"), ("w64", "PCM_24"), ("aiff", "PCM_24"), ("flac", "PCM_24"))

READER: Final = """
import sys, time
from optimiser.audio import open_recording
started = time.process_time()
sound = open_recording(sys.argv[1])
assert sum(len(block) for block in sound.blocks()) == sound.frames
lines = dict(line.split(":", 1) for line in open("/proc/self/status"))
print(f"{int(lines['VmHWM'].split()[0]) * 1024 / 1e6:.0f} MB, {time.process_time() - started:.1f} s of CPU")
"""


def write_noise(path: Path, subtype: str, minutes: int) -> None:
    """Stereo noise, ten seconds at a time."""
    import soundfile

    rng = np.random.default_rng(1)
    with soundfile.SoundFile(path, "w", RATE_HZ, 2, subtype) as file:
        for _ in range(minutes * 6):
            file.write(rng.normal(0, 0.1, (10 * RATE_HZ, 2)).clip(-1, 1))


def main(minutes: int) -> None:
    with TemporaryDirectory() as folder:
        for container, subtype in KINDS:
            path = Path(folder) / f"long.{container}"
            write_noise(path, subtype, minutes)
            words = [sys.executable, "-c", READER, str(path)]
            said = subprocess.run(words, capture_output=True, text=True, check=True).stdout.strip()
            size_mb = path.stat().st_size / 1e6
            print(f"{container:5} {subtype:7} {minutes} min stereo, {size_mb:.0f} MB on disk: {said}")  # noqa: T201
            path.unlink()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
