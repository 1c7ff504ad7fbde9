"""A little study of real takes on the pretend amp, made once; each test has a copy of its own behind an app."""

import hashlib
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from optimiser.rehearsal import LEARNING_RIFFS, RATE_HZ
from optimiser.service import Rules, build_app
from optimiser.service.worker import work_once
from optimiser.storage import Store, open_store
from optimiser.workflow import Answer, ReelWish, Wish, next_trials, record_goal, start, take
from optimiser.workflow.reel_files import keep_reel
from optimiser.workflow.rehearsing import Rehearsal

NAME = "rehearsal"
MADE = 3
BASE = "http://127.0.0.1:8765"

Ask = Callable[..., Any]


@pytest.fixture(autouse=True)
def own_surroundings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No test sees the store or the recordings of whoever runs it."""
    for name in ("OPTIMISER_STORE", "OPTIMISER_AUDIO"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


@pytest.fixture(scope="session")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with `rehearsal.db`, three measured trials in it, and the takes of a fourth that was only asked for."""
    from optimiser.audio import write_wav

    out = tmp_path_factory.mktemp("room")
    pretend = Rehearsal(3, out)
    (out / "takes").mkdir()
    stamp = pretend.stamp(1)
    with open_store(str(out / "rehearsal.db")) as store:
        start(store, pretend.sheet_text(), stamp)
        keep_reel(store, NAME, (pretend.proof, LEARNING_RIFFS), ReelWish("proof", out / "proof.wav"), stamp)
        write_wav(out / "goal.wav", pretend.amp.goal_reference(pretend.proof.samples, seed=3), int(RATE_HZ))
        record_goal(store, NAME, out / "goal.wav", stamp, lambda _: None)
        for number in range(1, MADE + 2):
            stamp = pretend.stamp(number)
            proposal = next_trials(store, NAME, Wish(), stamp)["proposals"][0]
            files, reading = pretend.perform(number, proposal["settings"])
            if number <= MADE:
                take(store, NAME, files, Answer(number, figures={"reading": reading}), stamp)
    return out


@pytest.fixture
def store(room: Path, tmp_path: Path) -> Iterator[Store]:
    """The little study in a store of the test's own."""
    shutil.copyfile(room / "rehearsal.db", tmp_path / "studies.db")
    shutil.copytree(room / "rehearsal.db.audio", tmp_path / "studies.db.audio")
    with open_store(str(tmp_path / "studies.db")) as opened:
        yield opened


@pytest.fixture
def app(store: Store) -> FastAPI:
    """The service on it, for this machine alone."""
    return build_app(store, Rules(actor="tester"))


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    """A browser on this machine."""
    with TestClient(app, base_url=BASE, headers={"Origin": BASE}) as opened:
        yield opened


@pytest.fixture
def takes(room: Path) -> tuple[Path, Path]:
    """Reference and capture of the fourth trial."""
    paths = sorted((room / "takes").glob(f"*{MADE + 1:02d}*"))
    reference = next(path for path in paths if "reference" in path.name)
    return reference, next(path for path in paths if "capture" in path.name)


@pytest.fixture
def send(client: TestClient) -> Callable[[Path], str]:
    """Upload a file in pieces and give its id."""

    def _send(path: Path, piece: int = 768 << 10) -> str:
        content = path.read_bytes()
        announced = {"name": path.name, "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
        begun = client.post("/api/uploads", json=announced)
        assert begun.status_code == 201, begun.text
        upload = str(begun.json()["upload"])
        for offset in range(0, len(content), piece):
            sent = client.patch(
                f"/api/uploads/{upload}",
                content=content[offset : offset + piece],
                headers={"Upload-Offset": str(offset), "Content-Type": "application/octet-stream"},
            )
            assert sent.status_code == 200, sent.text
        return upload

    return _send


@pytest.fixture
def work(client: TestClient, store: Store) -> Callable[[Any], Any]:
    """Do the jobs that wait, as the worker does, and give the one that was asked for."""

    def _work(accepted: Any) -> Any:
        assert accepted.status_code == 202, accepted.text
        while work_once(store, "tester"):
            pass
        place = accepted.request.url.join(accepted.headers["location"])
        assert place.path == f"/api/jobs/{accepted.json()['job']}"
        return client.get(str(place)).json()

    return _work
