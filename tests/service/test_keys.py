"""The same idempotency key again changes nothing and gets the same answer, whatever happened meanwhile."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from tests.cli.conftest import SHEET


def events(client: TestClient, name: str = "rehearsal") -> int:
    return len(client.get(f"/api/studies/{name}/history").json()["events"])


def test_every_write_is_done_once(client: TestClient) -> None:
    study = "/api/studies/rehearsal"
    writes: list[tuple[str, str, dict[str, Any]]] = [
        ("POST", "/api/studies", {"sheet": SHEET}),
        ("POST", f"{study}/next", {"other": True}),
        ("POST", f"{study}/trials", {"trial": 5, "reading": 6.0, "ear": 6.5}),
        ("PATCH", f"{study}/trials/1", {"ear": 8.0}),
        ("POST", f"{study}/trials/2/void", {}),
        ("POST", f"{study}/trials/2/unvoid", {}),
        ("POST", f"{study}/undo", {}),
    ]
    for turn, (method, path, body) in enumerate(writes):
        headers = {"Idempotency-Key": f"key-{turn}"}
        first = client.request(method, path, json=body, headers=headers)
        assert first.status_code in (200, 201), first.text
        stored = events(client)
        second = client.request(method, path, json=body, headers=headers)
        assert second.json() == first.json() or "changed" in first.json()
        assert events(client) == stored, path
    clash = client.patch(f"{study}/trials/1", json={"ear": 3.0}, headers={"Idempotency-Key": "key-2"})
    assert (clash.status_code, clash.json()["code"]) == (400, "bad_use")


def test_a_late_repeat_does_not_undo_what_came_after(client: TestClient) -> None:
    path = "/api/studies/rehearsal/trials/1"
    client.patch(path, json={"ear": 4.0}, headers={"Idempotency-Key": "a"})
    client.patch(path, json={"ear": 9.0}, headers={"Idempotency-Key": "b"})
    late = client.patch(path, json={"ear": 4.0}, headers={"Idempotency-Key": "a"})
    assert late.json()["ear"] == 9.0
    client.post("/api/studies", json={"sheet": SHEET}, headers={"Idempotency-Key": "c"})
    newer = SHEET.replace('"8:00"', '"9:00"')
    assert client.post("/api/studies", json={"sheet": newer}).json()["changed"]
    client.post("/api/studies", json={"sheet": SHEET}, headers={"Idempotency-Key": "c"})
    assert client.get("/api/studies/club-amp").json()["settings"][0]["low"] == 9.0


def test_a_take_is_measured_once(
    client: TestClient, takes: tuple[Path, Path], send: Callable[[Path], str], work: Callable[[Any], Any]
) -> None:
    asked = {"reference": send(takes[0]), "capture": send(takes[1]), "trial": 4, "reading": 6.0}
    headers = {"Idempotency-Key": "take-1"}
    url = "/api/studies/rehearsal/takes"
    first = client.post(url, json=asked, headers=headers)
    job = work(first)
    stored = events(client)
    again = client.post(url, json=asked, headers=headers)
    assert again.status_code == 202
    assert work(again) == job
    assert events(client) == stored
    clash = client.put("/api/studies/rehearsal/goal", json={"recording": "0" * 32}, headers=headers)
    assert clash.status_code == 400


def test_odd_keys_are_refused(client: TestClient) -> None:
    for key in (b"a b", b"a\tb", "\u00e9".encode(), b"x" * 201):
        asked = client.post("/api/studies/rehearsal/next", json={}, headers={b"Idempotency-Key": key})
        assert asked.status_code == 422, key
