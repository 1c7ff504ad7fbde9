"""The service as a process: its worker, its stream of events, and what is left when either is killed."""

import hashlib
import json
import os
import shutil
import signal
import time
from pathlib import Path
from typing import Any

import httpx2
import pytest

from tests.service.server import Server, served

pytestmark = pytest.mark.skipif(os.name != "posix", reason="asks the system for child processes as Linux has them")

SOON_S = 60.0


@pytest.fixture
def path(room: Path, tmp_path: Path) -> Path:
    shutil.copyfile(room / "rehearsal.db", tmp_path / "studies.db")
    shutil.copytree(room / "rehearsal.db.audio", tmp_path / "studies.db.audio")
    return tmp_path / "studies.db"


def send(client: httpx2.Client, path: Path) -> str:
    content = path.read_bytes()
    told = {"name": path.name, "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
    upload = str(client.post("api/uploads", json=told).json()["upload"])
    for offset in range(0, len(content), 768 << 10):
        piece = content[offset : offset + (768 << 10)]
        headers = {"Upload-Offset": str(offset), "Content-Type": "application/octet-stream"}
        assert client.patch(f"api/uploads/{upload}", content=piece, headers=headers).status_code == 200
    return upload


def finished(client: httpx2.Client, job: str) -> Any:
    end = time.monotonic() + SOON_S
    while time.monotonic() < end:
        told = client.get(f"api/jobs/{job}").json()
        if told["state"] in ("done", "failed"):
            return told
        time.sleep(0.05)
    raise AssertionError(f"job {job} did not end: {told}")


def order(client: httpx2.Client, takes: tuple[Path, Path]) -> str:
    reference, capture = (send(client, path) for path in takes)
    asked = {"reference": reference, "capture": capture, "trial": 4, "reading": 6.5}
    accepted = client.post("api/studies/rehearsal/takes", json=asked)
    assert accepted.status_code == 202, accepted.text
    return str(accepted.json()["job"])


def test_a_page_that_listens_hears_of_a_take_and_a_killed_worker_costs_nothing(
    path: Path, takes: tuple[Path, Path]
) -> None:
    with served(path) as server, server.client() as client:
        os.kill(server.worker(), signal.SIGKILL)
        job = order(client, takes)
        heard = hear(server, lambda said: any(told.get("state") == "done" for _, told in said))
        assert finished(client, job)["state"] == "done"
        kinds = [(kind, told.get("kind")) for kind, told in heard]
        assert ("change", "measured") in kinds or ("place", None) in kinds
        assert client.get("api/studies/rehearsal/trials/4").json()["state"] == "measured"
        server.process.send_signal(signal.SIGINT)
        assert server.process.wait(SOON_S) == 0
        assert server.process.stderr is not None
        assert server.process.stderr.read() == ""


def hear(server: Server, enough: Any) -> list[tuple[str, Any]]:
    """Events of the stream, until there are enough of them."""
    heard: list[tuple[str, Any]] = []
    kind = ""
    url, headers = f"{server.address}api/events?after=0", {"Accept": "text/event-stream"}
    with httpx2.stream("GET", url, headers=headers, timeout=SOON_S) as stream:
        assert stream.headers["content-type"].startswith("text/event-stream")
        for line in stream.iter_lines():
            if line.startswith("event: "):
                kind = line.removeprefix("event: ")
            if line.startswith("data: "):
                heard.append((kind, json.loads(line.removeprefix("data: "))))
                if enough(heard):
                    return heard
    return heard


@pytest.mark.ci
def test_a_killed_service_takes_its_jobs_up_again(path: Path, takes: tuple[Path, Path]) -> None:
    with served(path) as server, server.client() as client:
        os.kill(server.worker(), signal.SIGSTOP)
        job = order(client, takes)
        worker = server.worker()
        server.kill()
        os.kill(worker, signal.SIGKILL)
    with served(path) as server, server.client() as client:
        assert finished(client, job)["state"] == "done"
        measured = [t for t in client.get("api/studies/rehearsal/trials").json()["trials"] if t["state"] == "measured"]
        assert [trial["trial"] for trial in measured] == [1, 2, 3, 4]


@pytest.mark.ci
def test_with_lan_the_link_in_the_terminal_pairs_one_device(path: Path) -> None:
    with served(path, "--lan", "--host", "127.0.0.1") as server:
        port = server.address.rstrip("/").rpartition(":")[2]
        address, _, code = server.link.partition("#pair=")
        assert address == server.address
        with httpx2.Client(base_url=f"http://127.0.0.1:{port}/") as client:
            assert client.get("api/studies").status_code == 401
            assert client.post("api/pairing", json={"code": code}).status_code == 201
            assert client.get("api/studies").status_code == 200
            assert client.post("api/pairing", json={"code": code}).status_code == 401


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--host", "203.0.113.9"), "Add --lan"),
        (("--port", "70000"), "from 1024 to 65535"),
        (("--root-path", "amps"), "Write it as /amps"),
        (("--name", "a b"), "host name"),
        (("--host", "203.0.113.9", "--lan"), "--host"),
    ],
)
def test_an_address_that_cannot_be_is_refused(
    words: tuple[str, ...], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from optimiser.cli import run

    assert run(["serve", "--store", str(tmp_path / "studies.db"), *words]) == 2
    assert said in capsys.readouterr().err
