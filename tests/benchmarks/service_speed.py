"""How quickly the service answers: a proposal at 30 trials, and everything else while a pair of 400 MB is measured.

    python -m tests.benchmarks.service_speed [--pair-mb 400] [--out FILE.json]

Prints one JSON document: seconds at the 50th, 95th and 99th percentile, and the most memory that either process held.
"""

import argparse
import hashlib
import json
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx2
import numpy as np
import soundfile

from optimiser.rehearsal import REHEARSAL_SHEET
from optimiser.storage import open_store
from optimiser.study import load_sheet
from tests.service.server import Server, peak_mb, processor_s, served

TRIALS = 30
PROPOSALS = 40
RATE_HZ = 48_000
PIECE_BYTES = 768 << 10


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser()
    words.add_argument("--pair-mb", type=int, default=400)
    words.add_argument("--out", type=Path)
    told = words.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        figures = {"proposal": proposals(Path(folder)), "long_pair": long_pair(Path(folder), told.pair_mb)}
    text = json.dumps(figures, indent=1)
    sys.stdout.write(f"{text}\n")
    if told.out:
        told.out.write_text(f"{text}\n")


def percentiles(seconds: list[float]) -> dict[str, float]:
    """The usual three, and the worst."""
    p50, p95, p99 = (float(np.percentile(seconds, share)) for share in (50, 95, 99))
    return {"requests": len(seconds), "p50_s": p50, "p95_s": p95, "p99_s": p99, "worst_s": max(seconds)}


def proposals(folder: Path) -> dict[str, float]:
    """`POST next` that puts one aside and gives another, at 30 measured trials."""
    path = folder / "proposals.db"
    open_store(str(path)).close()
    space = load_sheet(REHEARSAL_SHEET).space
    rng = np.random.default_rng(1)
    with served(path) as server, server.client() as client:
        client.post("api/studies", json={"sheet": REHEARSAL_SHEET})
        name = client.get("api/studies").json()["studies"][0]["name"]
        for _ in range(TRIALS):
            settings = space.sample(rng)
            overall = 60.0 - 4.0 * (float(str(settings["gain"])) - 12.0) ** 2 + float(rng.normal())
            client.post(f"api/studies/{name}/trials", json={"settings": settings, "overall": overall, "reading": 6.5})
        client.post(f"api/studies/{name}/next", json={})
        seconds, before_s = [], processor_s(server.process.pid)
        for _ in range(PROPOSALS):
            started = time.perf_counter()
            asked = client.post(f"api/studies/{name}/next", json={"other": True})
            seconds.append(time.perf_counter() - started)
            assert asked.status_code == 200, asked.text
        used_s = processor_s(server.process.pid) - before_s
    return {**percentiles(seconds), "processor_s_each": used_s / PROPOSALS}


def write_pair(folder: Path, size_mb: int) -> tuple[Path, Path]:
    """Two stereo files of noise bursts that together have so many MB, written block by block."""
    frames = size_mb * 1_000_000 // 2 // 6
    rng = np.random.default_rng(1)
    paths = folder / "long-reference.wav", folder / "long-capture.wav"
    with (
        soundfile.SoundFile(paths[0], "w", RATE_HZ, 2, "PCM_24") as reference,
        soundfile.SoundFile(paths[1], "w", RATE_HZ, 2, "PCM_24") as capture,
    ):
        for _ in range(frames // RATE_HZ):
            burst = 0.2 * rng.normal(size=(RATE_HZ, 1)) * np.exp(-np.arange(RATE_HZ) / 6000)[:, None]
            reference.write(np.repeat(burst, 2, axis=1))
            capture.write(np.repeat(np.tanh(2 * burst) / 2, 2, axis=1))
    return paths


def pieces(path: Path) -> Iterator[tuple[int, bytes]]:
    """The file as a page sends it."""
    with path.open("rb") as file:
        offset = 0
        while piece := file.read(PIECE_BYTES):
            yield offset, piece
            offset += len(piece)


def send(client: httpx2.Client, path: Path) -> str:
    """Upload a file and give its id."""
    digest = hashlib.sha256()
    for _, piece in pieces(path):
        digest.update(piece)
    told = {"name": path.name, "bytes": path.stat().st_size, "sha256": digest.hexdigest()}
    upload = str(client.post("api/uploads", json=told).json()["upload"])
    for offset, piece in pieces(path):
        headers = {"Upload-Offset": str(offset), "Content-Type": "application/octet-stream"}
        assert client.patch(f"api/uploads/{upload}", content=piece, headers=headers).status_code == 200
    return upload


def long_pair(folder: Path, size_mb: int) -> dict[str, Any]:
    """A long pair end to end, and what else was asked meanwhile."""
    paths = write_pair(folder, size_mb)
    store = folder / "long.db"
    open_store(str(store)).close()
    with served(store) as server, server.client() as client:
        client.post("api/studies", json={"sheet": REHEARSAL_SHEET})
        over = threading.Event()
        seconds: list[float] = []
        asking = threading.Thread(target=ask, args=(server, over, seconds))
        asking.start()
        started = time.perf_counter()
        pair = dict(zip(("reference", "capture"), (send(client, path) for path in paths), strict=True))
        sent_s = time.perf_counter() - started
        job = client.post("api/measure", json=pair).json()["job"]
        while (told := client.get(f"api/jobs/{job}").json())["state"] in ("waiting", "running"):
            time.sleep(0.25)
        whole_s = time.perf_counter() - started
        over.set()
        asking.join()
        memory = {"service_mb": peak_mb(server.process.pid), "worker_mb": peak_mb(server.worker())}
    return {
        "pair_mb": size_mb,
        "state": told["state"],
        "upload_s": sent_s,
        "measured_s": whole_s - sent_s,
        **memory,
        "meanwhile": percentiles(seconds),
    }


def ask(server: Server, over: threading.Event, seconds: list[float]) -> None:
    """Ask for small things, twenty times a second."""
    with server.client() as client:
        name = client.get("api/studies").json()["studies"][0]["name"]
        while not over.wait(0.05):
            for path in ("api/studies", f"api/studies/{name}", f"api/studies/{name}/trials"):
                started = time.perf_counter()
                client.get(path)
                seconds.append(time.perf_counter() - started)


if __name__ == "__main__":
    main()
