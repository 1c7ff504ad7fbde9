"""What others say of the same pairs: HAAQI and four plain distances.

    python -m tests.benchmarks.match.outside

Needs the `listening` extra, see the study's README. Some 10 s for each case; every case is one line of `outside.csv`,
and a run that was broken off goes on where it stood. Nothing of this project's own measure is used here, so the
figures stay valid as long as the sound does.
"""

import csv
import time
from concurrent.futures import ProcessPoolExecutor
from importlib import import_module
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.match.cases import Case, compared_outside, pair_of
from tests.benchmarks.match.chains import RATE_HZ, Sound
from tests.benchmarks.match.haaqi_loops import quicken
from tests.benchmarks.match.sources import SOURCES, missing

FOLDER: Final = Path(__file__).parents[3] / "studies" / "match-ladders"
COLUMNS: Final = ("id", "haaqi", "mr_stft", "log_mel_db", "mfcc", "esr_raw", "capture_dbfs", "haaqi_cpu_s")

RESOLUTIONS: Final = ((512, 50, 240), (1024, 120, 600), (2048, 240, 1200))
"""FFT, hop and Hann window in samples (Yamamoto, Song, Kim 2020, arXiv 1910.11480)."""

LEAST_POWER: Final = 1e-8
"""Power below which a bin counts as empty, so that its logarithm stays finite (as in auraloss, Steinmetz 2020)."""

PROCESSES: Final = 2
AUDIOGRAM_HZ: Final = (250, 500, 1000, 2000, 4000, 6000)
MFCC_COUNT: Final = 20


def rms(sound: Sound) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(sound**2)))


def haaqi(reference: Sound, capture: Sound) -> float:
    """HAAQI version 1 (Kates and Arehart 2016) for a listener without hearing loss, both sides at 65 dB SPL.

    Its model adds noise from numpy's global generator, which is seeded here.
    """
    evaluator: Any = import_module("clarity.evaluator.haaqi")
    quicken(import_module("clarity.evaluator.haspi.eb"))
    hearing: Any = import_module("clarity.utils.audiogram")
    np.random.seed(0)
    flat = hearing.Audiogram(levels=np.zeros(len(AUDIOGRAM_HZ)), frequencies=np.array(AUDIOGRAM_HZ))
    levelled = reference / rms(reference), capture / rms(capture)
    return float(evaluator.haaqi_v1(levelled[0], RATE_HZ, levelled[1], RATE_HZ, flat, equalisation=1, level1=65.0)[0])


def magnitudes(sound: Sound, size: int, hop: int, window: int) -> NDArray[np.float64]:
    """(frames, size // 2 + 1) magnitudes, an empty bin being 1e-4."""
    padded = np.pad(sound, size // 2, mode="reflect")
    shape = np.zeros(size)
    first = (size - window) // 2
    shape[first : first + window] = np.hanning(window + 1)[:-1]
    frames = np.lib.stride_tricks.sliding_window_view(padded, size)[::hop]
    power = np.abs(np.fft.rfft(frames * shape, axis=1)) ** 2
    return np.asarray(np.sqrt(np.maximum(power, LEAST_POWER)))


def mr_stft(reference: Sound, capture: Sound) -> float:
    """Mean over three resolutions of spectral convergence plus mean difference of log magnitudes."""
    told = []
    for size, hop, window in RESOLUTIONS:
        real, copy = magnitudes(reference, size, hop, window), magnitudes(capture, size, hop, window)
        convergence = np.linalg.norm(real - copy) / np.linalg.norm(real)
        told.append(convergence + np.mean(np.abs(np.log(real) - np.log(copy))))
    return float(np.mean(told))


def log_mel_and_mfcc(reference: Sound, capture: Sound) -> tuple[float, float]:
    """Mean difference of log-mel spectra in dB, and mean distance of their cepstra without the level."""
    librosa: Any = import_module("librosa")
    mels = [librosa.feature.melspectrogram(y=sound, sr=RATE_HZ) for sound in (reference, capture)]
    real, copy = (librosa.power_to_db(mel, ref=np.max(mels[0]), top_db=80.0) for mel in mels)
    cepstra = [librosa.feature.mfcc(S=mel, n_mfcc=MFCC_COUNT)[1:] for mel in (real, copy)]
    return float(np.mean(np.abs(real - copy))), float(np.mean(np.linalg.norm(cepstra[0] - cepstra[1], axis=0)))


def error_to_signal(reference: Sound, capture: Sound) -> float:
    """Energy of the difference over energy of the reference, without lining anything up (Wright and Valimaki 2020)."""
    return float(np.sum((reference - capture) ** 2) / np.sum(reference**2))


def figures(reference: Sound, capture: Sound) -> dict[str, float]:
    """All of them; the capture is brought to the reference's level for all but the raw error."""
    length = min(reference.size, capture.size)
    real, raw = reference[:length], capture[:length]
    copy = raw * (rms(real) / rms(raw))
    started = time.process_time()
    told = {"haaqi": haaqi(real, copy), "haaqi_cpu_s": time.process_time() - started}
    log_mel_db, mfcc = log_mel_and_mfcc(real, copy)
    plain = {"mr_stft": mr_stft(real, copy), "log_mel_db": log_mel_db, "mfcc": mfcc}
    return {**told, **plain, "esr_raw": error_to_signal(real, raw)}


def read(path: Path) -> list[dict[str, str]]:
    """Lines of a table, none if it is not there."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _append(path: Path, row: dict[str, Any]) -> None:
    fresh = not path.exists()
    with path.open("a", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS)
        if fresh:
            writer.writeheader()
        writer.writerow({name: f"{value:.6g}" if isinstance(value, float) else value for name, value in row.items()})


def row_of(case: Case) -> dict[str, Any]:
    """One case as others see it."""
    pair = pair_of(case)
    return {"id": case.id, **figures(pair.reference, pair.capture), "capture_dbfs": pair.capture_dbfs}


def main() -> None:
    """Work out the cases that are not there yet, two at a time."""
    path = FOLDER / "outside.csv"
    absent = {name: why for name in SOURCES if (why := missing(name)) is not None}
    for why in absent.values():
        print(why)  # noqa: T201
    done = {row["id"] for row in read(path)}
    wanted = [case for case in compared_outside() if case.id not in done and case.source not in absent]
    with ProcessPoolExecutor(PROCESSES) as pool:
        for row in pool.map(row_of, wanted):
            _append(path, row)
            print(f"{row['id']:40} HAAQI {row['haaqi']:.3f}", flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
