"""What the page lives on: its own files, reels to be played, links for other devices, reasons and holds."""

import io
from html import unescape
from pathlib import Path

import numpy as np
import pytest
import soundfile
from fastapi import FastAPI
from starlette.testclient import TestClient

from optimiser.cli import run
from optimiser.rehearsal import LEARNING_RIFFS
from optimiser.review import CAUTIONS, DARK, LIGHT, css_variables
from optimiser.service import Rules, build_app
from optimiser.service.desk import Desk
from optimiser.storage import Store
from tests.cli.conftest import SHEET
from tests.service.conftest import BASE


def test_the_page_is_served_with_its_cautions_and_the_colours_of_the_figures(client: TestClient) -> None:
    page = client.get("/")
    assert all(caution in unescape(page.text) for caution in CAUTIONS)
    assert "<style" not in page.text
    assert "style=" not in page.text
    colours = client.get("/colours.css")
    assert colours.headers["content-type"].startswith("text/css")
    assert css_variables(DARK) in colours.text
    assert colours.text.count(css_variables(LIGHT)) == 1


def test_its_files_are_kept_by_a_browser_and_asked_for_again(client: TestClient) -> None:
    first = client.get("/static/main.js")
    assert first.headers["cache-control"] == "no-cache"
    assert first.headers["content-type"].startswith("text/javascript")
    again = client.get("/static/main.js", headers={"If-None-Match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_the_page_names_nobody_outside() -> None:
    folder = Path(__file__).parents[2] / "optimiser" / "service"
    files = [*folder.glob("static/**/*.*"), *folder.glob("templates/*")]
    assert len(files) > 20
    named = {path.name for path in files if "://" in path.read_text().replace("http://www.w3.org/2000/svg", "")}
    assert named == set()


def test_a_reel_is_remembered_once_and_given_as_often_as_asked(client: TestClient, room: Path) -> None:
    at = "/api/studies/rehearsal"
    before = len(client.get(f"{at}/history").json()["events"])
    made = client.post(f"{at}/reels", json={"kind": "proof"})
    assert made.status_code == 201, made.text
    assert made.json()["reel"]["riffs"] == list(LEARNING_RIFFS)
    assert len(client.get(f"{at}/history").json()["events"]) == before
    sound = client.get(f"{at}/{made.json()['file']}")
    assert "rehearsal-proof.wav" in sound.headers["content-disposition"]
    given, rate_hz = soundfile.read(io.BytesIO(sound.content))
    known, known_hz = soundfile.read(room / "proof.wav")
    assert rate_hz == known_hz
    assert np.array_equal(given, known)


def test_a_riff_that_joined_is_in_the_next_proof_reel_and_the_goal_is_said_to_lack_it(client: TestClient) -> None:
    at = "/api/studies/rehearsal"
    sheet = client.get(at).json()["sheet_text"]
    longer = sheet.replace('"two-note"', '"two-note", "gallop"')
    assert client.post("/api/studies", json={"sheet": longer}).json()["goal_again"]["reel_first"]
    kept = client.get(f"{at}/reels/proof.wav").content
    made = client.post(f"{at}/reels", json={"kind": "proof"}).json()
    assert set(made["reel"]["riffs"]) == {*LEARNING_RIFFS, "gallop"}
    assert not made["goal_again"]["reel_first"]
    assert client.get(at).json()["goal_again"] == made["goal_again"]
    assert len(client.get(f"{at}/{made['file']}").content) > len(kept), "what was remembered is given, and not before"


def test_a_learning_reel_plays_the_order_of_its_trial(client: TestClient) -> None:
    at = "/api/studies/rehearsal"
    trial = client.get(f"{at}/trials/2").json()
    made = client.post(f"{at}/reels", json={"kind": "learning", "trial": 2}).json()
    assert made["reel"]["riffs"] == trial["settings"]["riffs"]
    assert client.get(f"{at}/history").json()["events"][-1]["what"].startswith("learning reel, ")
    assert len(client.get(f"{at}/{made['file']}").content) > 44


def test_a_reel_that_cannot_be_made_here_says_what_to_do(
    client: TestClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = SHEET.replace('"chugs"', '"grooves"')
    assert own != SHEET
    client.post("/api/studies", json={"sheet": own})
    refused = client.post("/api/studies/club-amp/reels", json={"kind": "proof"})
    assert refused.status_code == 422
    assert "grooves" in refused.json()["message"]
    assert "--riffs" in refused.json()["hint"]
    monkeypatch.chdir(tmp_path)
    swept = [
        "reel",
        "rehearsal",
        "--kind",
        "proof",
        "--sweep",
        "--out",
        "other.wav",
        "--store",
        str(tmp_path / "studies.db"),
    ]
    assert run(swept) == 0
    kept = client.post("/api/studies/rehearsal/reels", json={"kind": "proof"})
    assert (kept.status_code, kept.json()["code"]) == (400, "bad_use")


def test_a_refused_proposal_is_kept_with_its_reason_and_holds_are_told(client: TestClient) -> None:
    at = "/api/studies/rehearsal"
    other = client.post(f"{at}/next", json={"other": True, "reason": "not safe", "lock": {"stage": "open"}})
    proposal = other.json()["proposals"][0]
    assert (proposal["settings"]["stage"], proposal["held"]) == ("open", ["stage"])
    events = client.get(f"{at}/history").json()["events"]
    assert [(event["kind"], event["reason"]) for event in events[-2:]] == [("declined", "not safe"), ("proposed", "")]
    assert client.get(f"{at}").json()["proposals"][0]["held"] == ["stage"]


def test_a_study_tells_what_its_page_draws(client: TestClient) -> None:
    study = client.get("/api/studies/rehearsal").json()
    mic = next(setting for setting in study["settings"] if setting["kind"] == "mic")
    assert mic["places"]["cap edge"] == {"radial_mm": 25.0, "distance_mm": 25.0, "angle_deg": 0.0}
    assert study["proof_reel"]["seconds"] > 10
    trials = client.get("/api/studies/rehearsal/trials").json()["trials"]
    assert [trial["recordings"] for trial in trials] == [True, True, True, False]


@pytest.fixture
def at_home(store: Store) -> FastAPI:
    app = build_app(store, Rules(paired=False))
    desk: Desk = app.state.desk
    desk.address = "http://192.0.2.7:8765/"
    return app


@pytest.mark.parametrize(
    ("base", "origin", "address"),
    [
        (BASE, BASE, "http://192.0.2.7:8765/"),
        ("http://localhost:8765", "http://localhost:8765", "http://192.0.2.7:8765/"),
        ("http://198.51.100.4:8765", "http://198.51.100.4:8765", "http://198.51.100.4:8765/"),
        ("http://198.51.100.4", "https://198.51.100.4", "https://198.51.100.4/"),
    ],
)
def test_a_link_for_another_device_leads_where_that_device_can_go(
    at_home: FastAPI, base: str, origin: str, address: str
) -> None:
    with TestClient(at_home, base_url=base, headers={"Origin": origin}) as client:
        told = client.post("/api/pairing/codes", json={}).json()
        assert told["link"] == f"{address}#pair={told['code']}"
        assert told["picture"].startswith("data:image/svg+xml")
        taken = client.post("/api/pairing", json={"code": told["code"], "label": "phone"})
        assert taken.status_code == 201
