"""Connections that are cut, files that are broken, writers that meet: nothing lost, nothing doubled, nothing down."""

import hashlib
import json
import os
import random
import shutil
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

import httpx2
import numpy as np
import pytest
import soundfile

from optimiser.storage import open_store
from tests.audio.hostile_files import hostile, write_good
from tests.benchmarks.service_speed import long_pair
from tests.service.server import ROOT, Server, peak_mb, processor_s, served
from tests.service.test_running import finished, send

pytestmark = [pytest.mark.ci, pytest.mark.skipif(os.name != "posix", reason="kills and limits are those of POSIX")]

CUTS = 20
WRITES = 200
FILES = 1000
MOST_S = 1.0
MOST_MB = 300.0

TERMINAL = """
import sys
from optimiser.cli import run
for turn in range(int(sys.argv[2])):
    words = ["log", "rehearsal", "--set=gain=1:00", "--set=stage=pushed", "--set=mic=cap edge",
             "--set=riffs=chugs,held chord,run,two-note", f"--overall={turn % 50}", f"--key=terminal-{turn}",
             "--store", sys.argv[1], "--json"]
    code = run(words)
    if code:
        sys.exit(code)
"""
SETTINGS = {"gain": 13.0, "stage": "pushed", "mic": "cap edge", "riffs": ["chugs", "held chord", "run", "two-note"]}


@pytest.fixture
def path(room: Path, tmp_path: Path) -> Path:
    shutil.copyfile(room / "rehearsal.db", tmp_path / "studies.db")
    shutil.copytree(room / "rehearsal.db.audio", tmp_path / "studies.db.audio")
    return tmp_path / "studies.db"


def cut_off(server: Server, method: str, path: str, headers: dict[str, str], body: bytes, share: float) -> None:
    """Send a request up to a share of its bytes, and leave without an answer."""
    port = int(server.address.rstrip("/").rpartition(":")[2])
    told = {"Host": f"127.0.0.1:{port}", "Content-Length": str(len(body)), **headers}
    head = "".join(f"{name}: {value}\r\n" for name, value in told.items())
    whole = f"{method} {path} HTTP/1.1\r\n{head}\r\n".encode() + body
    with socket.create_connection(("127.0.0.1", port)) as line:
        line.sendall(whole[: round(share * len(whole))])


def test_cuts_of_the_connection_lose_and_double_nothing(path: Path, tmp_path: Path) -> None:
    rng = random.Random(3)  # noqa: S311
    noise = 0.1 * np.random.default_rng(1).normal(size=400_000)
    soundfile.write(tmp_path / "noise.wav", noise, 48_000, subtype="PCM_16")
    content = (tmp_path / "noise.wav").read_bytes()
    announced = {"name": "noise.wav", "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
    with served(path) as server, server.client() as client:
        upload = client.post("api/uploads", json=announced).json()["upload"]
        for turn in range(CUTS):
            share = 1.0 if turn % 2 else rng.uniform(0.1, 1.0)
            body = json.dumps({"settings": SETTINGS, "overall": float(turn)}).encode()
            headers = {"Content-Type": "application/json", "Idempotency-Key": f"cut-{turn}"}
            cut_off(server, "POST", "/api/studies/rehearsal/trials", headers, body, share)
            kept = client.post("api/studies/rehearsal/trials", content=body, headers=headers)
            assert kept.json()["overall"] == turn
            offset = int(client.head(f"api/uploads/{upload}").headers["upload-offset"])
            piece = content[offset : offset + len(content) // CUTS + 1]
            told = {"Content-Type": "application/octet-stream", "Upload-Offset": str(offset)}
            cut_off(server, "PATCH", f"/api/uploads/{upload}", told, piece, share)
        while (offset := int(client.head(f"api/uploads/{upload}").headers["upload-offset"])) < len(content):
            told = {"Content-Type": "application/octet-stream", "Upload-Offset": str(offset)}
            client.patch(f"api/uploads/{upload}", content=content[offset : offset + 50_000], headers=told)
        assert client.get(f"api/uploads/{upload}").json()["whole"]
        trials = client.get("api/studies/rehearsal/trials").json()["trials"]
    own = [trial["overall"] for trial in trials if trial["trial"] > 4]
    assert own == [float(turn) for turn in range(CUTS)]


def test_service_and_terminal_write_to_one_file(path: Path) -> None:
    with served(path) as server, server.client() as client:
        words = [sys.executable, "-c", TERMINAL, str(path), str(WRITES)]
        with subprocess.Popen(
            words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, cwd=ROOT
        ) as terminal:
            for turn in range(WRITES):
                told = {"settings": SETTINGS, "overall": float(turn % 50)}
                kept = client.post(
                    "api/studies/rehearsal/trials", json=told, headers={"Idempotency-Key": f"http-{turn}"}
                )
                assert kept.status_code == 201, kept.text
            said = terminal.communicate(timeout=300)[1]
        assert (terminal.returncode, said) == (0, "")
    with open_store(str(path)) as store:
        events = store.events("rehearsal")
    assert [event.number for event in events] == list(range(1, len(events) + 1))
    keys = [event.key for event in events if event.key.startswith(("http-", "terminal-"))]
    assert len(keys) == len(set(keys)) == 2 * WRITES
    numbers = [event.trial for event in events if event.key in keys]
    assert numbers == list(range(5, 5 + 2 * WRITES))


def test_broken_files_cost_one_job_each_at_most(path: Path, tmp_path: Path) -> None:
    """Whatever the bytes, the upload or the job says one line, soon, in little memory, and both processes live on."""
    write_good(tmp_path / "good.wav")
    slow, refused, measured = [], 0, 0
    with served(path) as server, server.client() as client:
        worker = server.worker()
        _load(client, tmp_path / "good.wav")
        for number in range(FILES):
            (tmp_path / "bad.wav").write_bytes(hostile(number)[1])
            upload = tried(client, tmp_path / "bad.wav")
            if upload is None:
                refused += 1
                continue
            pair = {"reference": send(client, tmp_path / "good.wav"), "capture": upload}
            before_s = processor_s(worker)
            told = finished(client, client.post("api/measure", json=pair).json()["job"])
            slow += [number] if processor_s(worker) - before_s > MOST_S else []
            assert told["state"] == "done" or told["error"]["code"] in ("bad_recording", "bad_input"), (number, told)
            measured += 1
            for left in pair.values():
                client.delete(f"api/uploads/{left}")
        assert server.worker() == worker
        assert (slow, peak_mb(worker) < MOST_MB, peak_mb(server.process.pid) < MOST_MB) == ([], True, True)
    assert refused > FILES // 10
    assert measured > FILES // 10


def _load(client: httpx2.Client, good: Path) -> None:
    """Have the worker load its libraries, which takes as long as the longest measurement of a broken file."""
    pair = {name: send(client, good) for name in ("reference", "capture")}
    assert finished(client, client.post("api/measure", json=pair).json()["job"])["state"] == "done"


def tried(client: httpx2.Client, path: Path) -> str | None:
    """Upload a file that may be refused; anything but one line about it is a fault."""
    content = path.read_bytes()
    told = {"name": path.name, "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
    begun = client.post("api/uploads", json=told)
    if not content:
        assert begun.status_code == 422
        return None
    upload = str(begun.json()["upload"])
    for offset in range(0, len(content), 4 << 20):
        headers = {"Upload-Offset": str(offset), "Content-Type": "application/octet-stream"}
        answered: Any = client.patch(
            f"api/uploads/{upload}", content=content[offset : offset + (4 << 20)], headers=headers
        )
    if answered.status_code == 200:
        return upload
    assert (answered.status_code, answered.json()["code"]) == (422, "bad_recording"), answered.text
    return None


def test_the_service_is_killed_while_trials_are_recorded(path: Path) -> None:
    """Whatever was acknowledged is there once, and what was not goes in once with the same key."""
    acknowledged: dict[str, int] = {}
    for kill in range(4):
        with served(path) as server, server.client() as client:
            for turn in range(12):
                key = f"kill-{kill}-{turn}"
                told = {"settings": SETTINGS, "overall": 1.0}
                if turn == 10:
                    body = json.dumps(told).encode()
                    cut_off(
                        server, "POST", "/api/studies/rehearsal/trials",
                        {"Content-Type": "application/json", "Idempotency-Key": key}, body, 1.0,
                    )  # fmt: skip
                    server.kill()
                    break
                kept = client.post("api/studies/rehearsal/trials", json=told, headers={"Idempotency-Key": key})
                acknowledged[key] = kept.json()["trial"]
    with served(path) as server, server.client() as client:
        for kill in range(4):
            key = f"kill-{kill}-10"
            told = {"settings": SETTINGS, "overall": 1.0}
            kept = client.post("api/studies/rehearsal/trials", json=told, headers={"Idempotency-Key": key})
            acknowledged[key] = kept.json()["trial"]
    with open_store(str(path)) as store:
        events = store.events("rehearsal")
    stored = {event.key: event.trial for event in events if event.key.startswith("kill-")}
    assert stored == acknowledged
    assert len(set(stored.values())) == len(stored) == 44


def test_a_pair_of_400_mb_passes_through_little_memory(tmp_path: Path) -> None:
    """Speed is not tested here: `tests/benchmarks/service_speed.py` tells how quickly others are answered meanwhile."""
    told = long_pair(tmp_path, 400)
    assert told["state"] == "done"
    assert told["service_mb"] < 400
    assert told["worker_mb"] < 600
    assert told["meanwhile"]["requests"] > 100
