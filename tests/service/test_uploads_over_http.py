"""Recordings sent in pieces over a bad line, and lies about them."""

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from starlette.testclient import TestClient

PIECE = {"Content-Type": "application/octet-stream"}


@pytest.fixture
def content(tmp_path: Path) -> bytes:
    path = tmp_path / "noise.wav"
    soundfile.write(path, 0.1 * np.random.default_rng(1).normal(size=48_000), 48_000, subtype="PCM_16")
    return path.read_bytes()


def begun(client: TestClient, content: bytes, **lies: Any) -> Any:
    told = {"name": "noise.wav", "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
    return client.post("/api/uploads", json=told | lies)


def sent(client: TestClient, upload: str, offset: object, piece: bytes) -> Any:
    headers = PIECE | {"Upload-Offset": str(offset)}
    return client.patch(f"/api/uploads/{upload}", content=piece, headers=headers)


def test_it_goes_on_where_it_was_cut(client: TestClient, content: bytes) -> None:
    upload = begun(client, content).json()["upload"]
    assert sent(client, upload, 0, content[:30_000]).json()["offset"] == 30_000
    asked = client.head(f"/api/uploads/{upload}")
    assert (asked.status_code, asked.headers["upload-offset"]) == (204, "30000")
    assert asked.headers["upload-complete"] == "?0"
    again = sent(client, upload, 0, content[:30_000])
    assert (again.status_code, again.headers["upload-offset"]) == (409, "30000")
    last = sent(client, upload, 30_000, content[30_000:])
    assert (last.json()["whole"], last.headers["upload-complete"]) == (True, "?1")
    assert client.delete(f"/api/uploads/{upload}").status_code == 204
    assert client.head(f"/api/uploads/{upload}").status_code == 404


def test_the_same_key_begins_one_upload(client: TestClient, content: bytes) -> None:
    key = {"Idempotency-Key": "k1"}
    told = {"name": "noise.wav", "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
    first, second = (client.post("/api/uploads", json=told, headers=key).json() for _ in range(2))
    assert first == second
    other = client.post("/api/uploads", json=told | {"bytes": 5}, headers=key)
    assert (other.status_code, other.json()["code"]) == (400, "bad_use")


def test_what_is_no_recording_is_refused_by_its_label_when_it_is_whole(client: TestClient) -> None:
    text = b"this is no recording at all"
    upload = begun(client, text, name="notes.wav").json()["upload"]
    refused = sent(client, upload, 0, text)
    assert (refused.status_code, refused.json()["code"]) == (422, "bad_recording")
    assert refused.json()["message"] == "notes.wav is no WAV, AIFF or FLAC file."
    assert client.head(f"/api/uploads/{upload}").status_code == 404


LIES: list[dict[str, Any]] = [
    *({"bytes": wrong} for wrong in (0, -1, 1.5, "12", None, True, 2**31 + 1, 10**30)),
    *({"sha256": wrong} for wrong in ("", "0" * 63, "0" * 65, "G" * 64, "A" * 64, None, 5)),
    *({"name": wrong} for wrong in ("", " ", "a\0b", "a\r\nb", "\u202e", "x" * 201, None, 5, "\ud800")),
    {"more": 1},
]


@pytest.mark.parametrize("lie", LIES, ids=[ascii(lie)[:40] for lie in LIES])
def test_a_lie_in_the_announcement_is_refused(client: TestClient, content: bytes, lie: dict[str, Any]) -> None:
    import json

    told = {"name": "noise.wav", "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()} | lie
    asked = client.post("/api/uploads", content=json.dumps(told), headers={"Content-Type": "application/json"})
    assert asked.status_code == 422, asked.text


@pytest.mark.parametrize("offset", ["-1", "1", "x", "", "1e3", "99999999999999999999", "0 ", "+0", "\u00b2"])
def test_a_piece_for_nowhere_is_refused(client: TestClient, content: bytes, offset: str) -> None:
    upload = begun(client, content).json()["upload"]
    headers = {b"Content-Type": b"application/octet-stream", b"Upload-Offset": offset.encode()}
    refused = client.patch(f"/api/uploads/{upload}", content=content[:10], headers=headers)
    assert refused.status_code in (409, 422) or offset in ("0 ", "+0")
    kept = int(client.head(f"/api/uploads/{upload}").headers["upload-offset"])
    assert kept == (10 if refused.status_code == 200 else 0)


@pytest.mark.parametrize("extra", [1, 100, -1, -100])
def test_another_length_than_announced_never_counts(client: TestClient, content: bytes, extra: int) -> None:
    upload = begun(client, content, bytes=len(content) + extra).json()["upload"]
    answered = sent(client, upload, 0, content)
    if extra < 0:
        assert (answered.status_code, answered.json()["code"]) == (422, "bad_input")
    else:
        assert answered.json()["whole"] is False
        filled = sent(client, upload, len(content), bytes(extra))
        assert filled.status_code == 422
        assert "SHA-256" in filled.json()["message"]


def test_unfinished_unknown_and_used_uploads_make_no_job(client: TestClient, content: bytes) -> None:
    half = begun(client, content).json()["upload"]
    sent(client, half, 0, content[:100])
    for upload, status in ((half, 400), ("0" * 32, 404), ("../../etc", 422)):
        pair = {"reference": upload, "capture": upload}
        assert client.post("/api/measure", json=pair).status_code == status
    assert client.get("/api/jobs").json() == {"jobs": []}


def test_a_pair_that_does_not_belong_together_fails_by_its_labels(
    client: TestClient,
    content: bytes,
    takes: tuple[Path, Path],
    send: Callable[[Path], str],
    work: Callable[[Any], Any],
) -> None:
    upload = begun(client, content, name="only noise.wav").json()["upload"]
    sent(client, upload, 0, content)
    asked = {"reference": send(takes[0]), "capture": upload, "trial": 4}
    job = work(client.post("/api/studies/rehearsal/takes", json=asked))
    assert job["state"] == "failed"
    assert job["error"]["code"] == "bad_recording"
    assert upload not in str(job["error"])
    assert client.get("/api/studies/rehearsal/trials/4").json()["state"] == "waiting"
    assert client.get(f"/api/uploads/{upload}").json()["whole"], "a failed job leaves its recordings for another go"
