"""Twenty minutes in stereo are measured in bounded memory."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

RATE_HZ = 48_000
LIMIT_MB = 300

# what Linux calls VmHWM: the peak of this process alone; getrusage would report the parent's too
CODE = r"""
import re, sys
from pathlib import Path
from optimiser.audio import open_recording
from optimiser.scoring import measure_sounds
result = measure_sounds(*(open_recording(path) for path in sys.argv[1:]))
peak_kb = int(re.search(r"VmHWM:\s+(\d+)", Path("/proc/self/status").read_text())[1])
print(result.match, result.gain_db, result.polarity, peak_kb / 1024)
"""


@pytest.mark.ci
def test_twenty_minutes_of_stereo(tmp_path: Path) -> None:
    rng = np.random.default_rng(9)
    paths = [tmp_path / "reference.wav", tmp_path / "capture.wav"]
    files = [soundfile.SoundFile(path, "w", RATE_HZ, 2, "PCM_24") for path in paths]
    for _ in range(20):
        swell = np.repeat(10 ** rng.uniform(-2, 0, 240), RATE_HZ // 4)[:, None]
        minute = 0.05 * swell * rng.normal(size=(60 * RATE_HZ, 2))
        files[0].write(minute)
        files[1].write(-0.5 * minute)
    for file in files:
        file.close()
    out = subprocess.run([sys.executable, "-c", CODE, *paths], capture_output=True, check=True, text=True).stdout
    match, gain_db, polarity, megabytes = (float(word) for word in out.split())
    assert match > 99.5
    assert gain_db == pytest.approx(-6.02, abs=0.05)
    assert polarity == -1
    assert megabytes < LIMIT_MB
