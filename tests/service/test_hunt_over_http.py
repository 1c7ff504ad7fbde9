"""A hunt over HTTP from the sheet to the recall sheet, and that it is the same hunt as the terminal's."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from optimiser.cli import run
from tests.cli.conftest import SHEET

Send = Callable[[Path], str]
Work = Callable[[Any], Any]


def test_a_study_is_started_hunted_and_mended(client: TestClient) -> None:
    begun = client.post("/api/studies", json={"sheet": SHEET})
    assert begun.status_code == 201
    assert begun.json()["study"] == "club-amp"
    assert client.post("/api/studies", json={"sheet": SHEET}).status_code == 200
    study = client.get("/api/studies/club-amp").json()
    assert [setting["kind"] for setting in study["settings"]] == ["knob", "stage", "mic", "riff order"]
    assert study["settings"][0]["low"] == 8.0
    proposal = client.post("/api/studies/club-amp/next", json={}).json()["proposals"][0]
    assert client.post("/api/studies/club-amp/next", json={}).json()["proposals"][0] == proposal
    logged = client.post("/api/studies/club-amp/trials", json={"trial": 1, "overall": 61.5, "reading": 6.5})
    assert logged.status_code == 201
    assert logged.json()["settings"] == proposal["settings"]
    mended = client.patch("/api/studies/club-amp/trials/1", json={"overall": 62.5, "reason": "misread"})
    assert (mended.json()["overall"], mended.json()["changed"]) == (62.5, ["overall"])
    assert client.post("/api/studies/club-amp/trials/1/void", json={}).json()["state"] == "void"
    assert client.post("/api/studies/club-amp/trials/1/unvoid", json={}).json()["state"] == "measured"
    assert client.post("/api/studies/club-amp/undo", json={}).json()["kind"] == "restored"
    told = client.get("/api/studies/club-amp/history").json()["events"]
    assert [event["kind"] for event in told] == [
        "started", "proposed", "measured", "amended", "voided", "restored", "voided",
    ]  # fmt: skip
    assert told[3]["reason"] == "misread"
    assert {event["actor"] for event in told} == {"tester"}
    listed = client.get("/api/studies").json()["studies"]
    assert [study["name"] for study in listed] == ["rehearsal", "club-amp"]


def test_another_keeps_the_locks_unless_others_are_told(client: TestClient) -> None:
    """Left out, `lock` is as before; a page that holds nothing says so, and is told what that let go of."""
    client.post("/api/studies", json={"sheet": SHEET})

    def ask(**wish: Any) -> Any:
        return client.post("/api/studies/club-amp/next", json=wish).json()

    assert ask(lock={"gain": "1:00"})["proposals"][0]["held"] == ["gain"]
    kept = ask(other=True)
    assert (kept["proposals"][0]["settings"]["gain"], kept["let_go"]) == (13.0, [])
    freed = ask(other=True, lock={})
    assert (freed["proposals"][0]["held"], freed["let_go"]) == ([], ["gain"])
    told = client.get("/api/studies/club-amp").json()
    assert told["reading_band"]["accepted"] == freed["proposals"][0]["accepted"] == "device reading 6 or more"
    assert client.post("/api/studies/club-amp/next", json={"minutes": 1441}).status_code == 422


def test_a_take_is_uploaded_measured_and_kept(
    client: TestClient, takes: tuple[Path, Path], send: Send, work: Work
) -> None:
    reference, capture = map(send, takes)
    asked = {"reference": reference, "capture": capture, "trial": 4, "reading": 6.5, "ear": 7, "note": "warm"}
    job = work(client.post("/api/studies/rehearsal/takes", json=asked))
    assert (job["state"], job["error"], job["trial"]) == ("done", None, 4)
    kept = client.get("/api/studies/rehearsal/trials/4").json()
    assert job["result"] == kept
    assert kept["state"] == "measured"
    assert 0 < kept["match"] <= 100
    assert (kept["reading"], kept["ear"], kept["note"]) == (6.5, 7.0, "warm")
    events = client.get("/api/studies/rehearsal/export").json()["events"]
    assert events[-1]["body"]["details"]["reference"]["name"] == takes[0].name
    assert client.get(f"/api/uploads/{reference}").status_code == 404
    measured = [trial for trial in client.get("/api/studies/rehearsal/trials").json()["trials"] if trial["match"]]
    assert len(measured) == 4


def test_the_terminal_sees_what_the_service_stored_and_the_other_way_round(
    client: TestClient, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    at = ("--store", str(tmp_path / "studies.db"), "--json")

    def told(*words: str) -> Any:
        capsys.readouterr()
        assert run([*words, *at]) == 0
        return json.loads(capsys.readouterr().out)

    here, there = client.post("/api/studies/rehearsal/next", json={}).json(), told("next", "rehearsal")
    assert here == there
    told("log", "rehearsal", "--trial", "4", "--failed")
    assert client.get("/api/studies/rehearsal/trials/4").json()["state"] == "failed"
    told("undo", "rehearsal")
    assert client.get("/api/studies/rehearsal/history").json() == told("history", "rehearsal")
    settings = here["proposals"][0]["settings"]
    written = {name: ",".join(value) if isinstance(value, list) else value for name, value in settings.items()}
    words = [f"--set={name}={value}" for name, value in written.items()]
    assert client.post("/api/studies/rehearsal/predict", json={"settings": settings}).json() == told(
        "predict", "rehearsal", *words
    )


def test_what_a_study_shows(client: TestClient) -> None:
    outlook = client.get("/api/studies/rehearsal/outlook").json()
    assert outlook["advice"] in ("go on", "verify", "stop")
    assert set(outlook["recommended"]["settings"]) == {"gain", "stage", "mic", "riffs"}
    mattered = client.get("/api/studies/rehearsal/mattered").json()["mattered"]
    assert {share["setting"] for share in mattered} == {"gain", "stage", "mic", "riffs"}
    figures = client.get("/api/studies/rehearsal/figures").json()["figures"]
    assert {"progress", "mattered"} <= {figure["name"] for figure in figures}
    assert all(figure["finding"] and figure["head"] and figure["rows"] for figure in figures)
    drawn = client.get("/api/studies/rehearsal/figures/progress.svg")
    assert drawn.headers["content-type"].startswith("image/svg+xml")
    assert "<svg" in drawn.text
    assert "<script" not in drawn.text
    missing = client.get("/api/studies/rehearsal/figures/nothing.svg")
    assert (missing.status_code, missing.json()["code"]) == (404, "not_found")
    sheet = client.get("/api/studies/rehearsal/recall/1")
    assert "sha256-" in sheet.headers["content-security-policy"]
    assert "Rehearsal amp" in sheet.text or "rehearsal" in sheet.text


def test_a_goal_and_a_pair_without_a_study_are_jobs_too(
    client: TestClient, room: Path, takes: tuple[Path, Path], send: Send, work: Work
) -> None:
    job = work(client.put("/api/studies/rehearsal/goal", json={"recording": send(room / "goal.wav")}))
    assert job["result"]["rescored"] == [1, 2, 3]
    assert job["result"]["goal"]["name"] == "goal.wav"
    pair = dict(zip(("reference", "capture"), map(send, takes), strict=True))
    job = work(client.post("/api/measure", json=pair))
    assert job["study"] is None
    assert 0 < job["result"]["match"] <= 100


def test_a_take_that_is_taken_back_leaves_its_proposal_waiting(client: TestClient) -> None:
    study = "/api/studies/rehearsal"
    before = client.get(study).json()
    client.post(f"{study}/trials", json={"trial": 4, "overall": 61})
    undone = client.post(f"{study}/undo", json={"reason": "another trial"}).json()
    assert (undone["kind"], undone["trial"], undone["shown"]) == ("measured", 4, "trial 4; it waits again")
    after = client.get(study).json()
    assert {**after, "event": before["event"]} == before
    told = client.get(f"{study}/history?trial=4").json()["events"]
    assert [event["kind"] for event in told] == ["proposed", "measured", "unmade"]
    assert (told[1]["undone_by"], told[2]["undoes"]) == (told[2]["event"], told[1]["event"])


def test_what_is_known_is_not_sent_again(client: TestClient) -> None:
    for path in ("/api/studies", "/api/studies/rehearsal", "/api/studies/rehearsal/trials", "/api/events?after=0"):
        first = client.get(path)
        again = client.get(path, headers={"If-None-Match": first.headers["etag"]})
        assert (again.status_code, again.content) == (304, b"")
        client.post("/api/studies/rehearsal/trials/1/void", json={})
        changed = client.get(path, headers={"If-None-Match": first.headers["etag"]})
        assert changed.status_code == 200
        client.post("/api/studies/rehearsal/undo", json={})


def test_a_study_goes_out_and_comes_back_the_same(client: TestClient, tmp_path: Path) -> None:
    from optimiser.service import Rules, build_app
    from optimiser.storage import open_store
    from tests.service.conftest import BASE

    document = client.get("/api/studies/rehearsal/export").json()
    with (
        open_store(str(tmp_path / "other.db")) as other,
        TestClient(build_app(other, Rules()), base_url=BASE) as there,
    ):
        taken = there.post("/api/studies/import", json=document)
        assert (taken.status_code, taken.json()["study"]) == (201, "rehearsal")
        assert there.get("/api/studies/rehearsal/export").json() == document
        assert there.post("/api/studies/import", json=document).status_code == 400
        assert there.post("/api/studies/import", json={"events": [1]}).status_code == 422


def test_what_is_wrong_with_a_body_is_said_plainly(client: TestClient) -> None:
    sent = {"trial": 0, "ear": 11, "reading": "6", "drive": 1, "failed": 1, "note": "\0"}
    told = client.post("/api/studies/rehearsal/trials", json=sent).json()["message"]
    assert told.splitlines() == [
        "trial: give at least 1",
        "reading: give a number",
        "ear: give at most 10.0",
        "note: leave the character NUL out",
        "failed: give true or false",
        "drive: nothing here has that name",
    ]


@pytest.mark.parametrize(
    ("method", "path", "body", "status", "code"),
    [
        ("GET", "/api/studies/nowhere", None, 404, "not_found"),
        ("GET", "/api/studies/rehearsal/trials/99", None, 404, "not_found"),
        ("POST", "/api/studies/rehearsal/trials", {"trial": 1, "ear": 5}, 400, "bad_use"),
        ("POST", "/api/studies/rehearsal/trials", {"trial": 4}, 422, "bad_trial"),
        ("POST", "/api/studies/rehearsal/trials", {"trial": 4, "failed": True, "overall": 70}, 400, "bad_use"),
        ("POST", "/api/studies/rehearsal/trials", {"trial": 4, "ear": 11}, 422, "bad_request"),
        ("POST", "/api/studies/rehearsal/trials", {"settings": {"gain": "noon"}}, 422, "bad_settings"),
        ("POST", "/api/studies", {"sheet": "[study]"}, 422, "bad_sheet"),
        ("POST", "/api/studies/rehearsal/next", {"count": 13}, 422, "bad_request"),
        ("POST", "/api/studies/rehearsal/next", {"lock": {"drive": 1}}, 422, "bad_settings"),
        ("PATCH", "/api/studies/rehearsal/trials/1", {}, 400, "bad_use"),
        ("GET", "/api/jobs/ffffffffffffffffffffffffffffffff", None, 404, "not_found"),
        ("GET", "/nothing/here", None, 404, "not_found"),
        ("DELETE", "/api/studies", None, 405, "bad_use"),
    ],
)
def test_a_refusal_is_a_problem_document_with_the_terminals_words(
    client: TestClient, method: str, path: str, body: Any, status: int, code: str
) -> None:
    refused = client.request(method, path, json=body)
    assert refused.headers["content-type"] == "application/problem+json"
    told = refused.json()
    assert (refused.status_code, told["status"], told["code"]) == (status, status, code), told
    assert told["message"]
    assert told["hint"] or told["faults"]
    assert told["title"]
