"""Who is let in, what every answer carries, and how much may be sent."""

import re
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.routing import Mount
from starlette.testclient import TestClient

from optimiser.service import Rules, build_app
from optimiser.service.desk import Desk
from optimiser.service.guard import OPEN_PATHS
from optimiser.service.guesses import MOST_GUESSES, SPAN_S, Guesses
from optimiser.service.pairing import CODE_S, Pairing
from optimiser.storage import Store
from tests.service.conftest import BASE, NAME


@pytest.fixture
def paired_app(store: Store) -> FastAPI:
    return build_app(store, Rules(paired=True))


@pytest.fixture
def stranger(paired_app: FastAPI) -> Iterator[TestClient]:
    with TestClient(paired_app, base_url=BASE, headers={"Origin": BASE}, client=("192.168.1.7", 5000)) as client:
        yield client


def desk_of(app: FastAPI) -> Desk:
    desk: Desk = app.state.desk
    return desk


def flat(routes: Iterable[Any]) -> Iterator[Any]:
    """Every route, also those of routers that were included."""
    for route in routes:
        inner = getattr(route, "original_router", None)
        yield from flat(inner.routes) if inner is not None else [route]


def routes_of(app: FastAPI) -> list[tuple[str, str]]:
    """Every method and path that the app answers to, with something in place of each variable."""
    found = []
    for route in flat(app.routes):
        if isinstance(route, Mount):
            assert route.path == "/static"
            continue
        path = str(route.path)
        for variable, value in (("name", NAME), ("letter", "x"), ("part", "capture"), ("figure", "progress")):
            path = path.replace(f"{{{variable}}}", value)
        path = re.sub(r"\{\w+\}", "1", path)
        found += [(method, path) for method in sorted(route.methods)]
    return found


def test_no_route_gives_anything_without_a_session(paired_app: FastAPI, stranger: TestClient) -> None:
    routes = routes_of(paired_app)
    assert len(routes) > 40
    kept = [(method, path) for method, path in routes if path not in OPEN_PATHS]
    for method, path in kept:
        asked = stranger.request(method, path, headers={"Content-Type": "application/json"})
        if "uploads/" in path and method == "PATCH":
            asked = stranger.patch(path, content=b"", headers={"Content-Type": "application/octet-stream"})
        assert asked.status_code == 401, (method, path)
        assert NAME not in asked.text
    open_ones = {path for _, path in routes} & set(OPEN_PATHS)
    assert open_ones == set(OPEN_PATHS)
    for path in ("/", "/healthz"):
        assert NAME not in stranger.get(path).text


def test_a_code_lets_one_device_in_once_and_a_revoked_one_is_out(paired_app: FastAPI, stranger: TestClient) -> None:
    code = desk_of(paired_app).pairing.new_code()
    paired = stranger.post("/api/pairing", json={"code": code, "label": "phone"})
    assert paired.status_code == 201
    cookie = paired.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "token" not in paired.json()
    assert stranger.get("/api/studies").status_code == 200
    stranger.post(f"/api/studies/{NAME}/trials/1/void", json={})
    assert stranger.get(f"/api/studies/{NAME}/history").json()["events"][-1]["actor"] == "phone"
    sessions = stranger.get("/api/sessions").json()["sessions"]
    assert [(session["label"], session["own"]) for session in sessions] == [("phone", True)]
    assert stranger.post("/api/pairing", json={"code": code}).status_code == 401
    assert stranger.delete(f"/api/sessions/{sessions[0]['id']}").status_code == 204
    assert stranger.get("/api/studies").status_code == 401


def test_a_program_may_carry_the_secret_itself(paired_app: FastAPI, stranger: TestClient) -> None:
    code = desk_of(paired_app).pairing.new_code()
    token = stranger.post("/api/pairing", json={"code": code, "bearer": True}).json()["token"]
    stranger.cookies.clear()
    assert stranger.get("/api/studies").status_code == 401
    bearer = {"Authorization": f"Bearer {token}"}
    assert stranger.get("/api/studies", headers=bearer).status_code == 200
    code = stranger.post("/api/pairing/codes", json={}, headers=bearer).json()["code"]
    assert stranger.post("/api/pairing", json={"code": code}).status_code == 201


def test_guessing_is_slowed_down_for_one_address_alone(paired_app: FastAPI, stranger: TestClient) -> None:
    codes = [stranger.post("/api/pairing", json={"code": f"guess {turn}"}).status_code for turn in range(100)]
    assert codes == [401] * MOST_GUESSES + [429] * (100 - MOST_GUESSES)
    right = desk_of(paired_app).pairing.new_code()
    refused = stranger.post("/api/pairing", json={"code": right})
    assert refused.status_code == 429
    assert 0 < int(refused.headers["retry-after"]) <= SPAN_S
    elsewhere = TestClient(paired_app, base_url=BASE, client=("192.168.1.8", 5000))
    sessions = [elsewhere.get("/api/studies", headers={"Authorization": f"Bearer {turn}"}) for turn in range(20)]
    assert [asked.status_code for asked in sessions] == [401] * MOST_GUESSES + [429] * 10
    third = TestClient(paired_app, base_url=BASE, client=("192.168.1.9", 5000))
    assert third.post("/api/pairing", json={"code": right}).status_code == 201


def test_wrong_guesses_are_forgotten_after_a_minute() -> None:
    guesses = Guesses()
    for turn in range(MOST_GUESSES):
        guesses.wrong("a", float(turn))
    assert guesses.wait_s("a", 9.0) == SPAN_S - 9
    assert guesses.wait_s("b", 9.0) is None
    assert guesses.wait_s("a", SPAN_S) is None


def test_a_code_is_good_for_ten_minutes() -> None:
    now_s = 0.0
    pairing = Pairing(lambda: now_s)
    code, late = pairing.new_code(), pairing.new_code()
    now_s = CODE_S - 1
    assert pairing.use(code)
    now_s = CODE_S + 1
    assert not pairing.use(late)
    assert len({pairing.new_code() for _ in range(100)}) == 100


def test_every_answer_carries_the_strict_headers(client: TestClient) -> None:
    for path in ("/", "/healthz", "/api/studies", "/nothing", "/static/base.css", f"/api/studies/{NAME}/trials"):
        headers = client.get(path).headers
        assert "default-src 'self'" in headers["content-security-policy"]
        assert "frame-ancestors 'none'" in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["cache-control"] == ("no-cache" if path.startswith("/static/") else "no-store")
        assert not [name for name in headers if name.startswith("access-control")]


def test_large_bodies_are_refused_before_they_are_read(client: TestClient) -> None:
    big = client.post("/api/studies", content=b" " * (1 << 20) + b"{}", headers={"Content-Type": "application/json"})
    assert (big.status_code, big.json()["code"]) == (413, "too_large")

    def pieces() -> Iterator[bytes]:
        for _ in range(32):
            yield b" " * 65_536

    streamed = client.post("/api/studies", content=pieces(), headers={"Content-Type": "application/json"})
    assert (streamed.status_code, streamed.json()["code"]) == (413, "too_large")


def test_it_works_under_the_path_of_a_proxy(store: Store) -> None:
    app = build_app(store, Rules(paired=True))
    with TestClient(app, base_url=f"{BASE}/a/b", root_path="/a/b", headers={"Origin": BASE}) as client:
        assert client.get("/").status_code == 200
        assert client.get("/api/studies").status_code == 401
        code = desk_of(app).pairing.new_code()
        paired = client.post("/api/pairing", json={"code": code})
        assert "path=/a/b" in paired.headers["set-cookie"].lower()
        assert client.get("/api/studies").json()["studies"][0]["name"] == NAME
        assert client.get("/static/base.css").status_code == 200
        assert client.get("/api/openapi.json").json()["servers"] == [{"url": "/a/b"}]
        page = client.get("/").text
        assert not re.findall(r'(?:href|src)="/', page)


def test_a_fault_of_ours_tells_its_number_and_nothing_of_the_inside(
    app: FastAPI, caplog: pytest.LogCaptureFixture
) -> None:
    def broken() -> None:
        raise RuntimeError("inner\nsecret")

    app.add_api_route("/api/broken", broken)
    asked = TestClient(app, base_url=BASE, raise_server_exceptions=False).get("/api/broken")
    told = asked.json()
    assert (asked.status_code, told["code"]) == (500, "bug")
    assert "secret" not in asked.text
    assert "frame-ancestors 'none'" in asked.headers["content-security-policy"]
    number = re.findall(r"\(([0-9a-f]{8})\)", told["message"])[0]
    assert f"fault {number}: RuntimeError('inner\\nsecret')" in caplog.text


def test_a_page_that_listens_hears_nothing_more_once_it_is_shut_out(store: Store) -> None:
    from types import SimpleNamespace

    from optimiser.service.routes.events import may_listen

    desk = Desk(store, Rules(paired=True))
    now = datetime.now(UTC)
    session = store.sessions.add("secret", "phone", now, now + timedelta(days=1))
    request: Any = SimpleNamespace(state=SimpleNamespace(session=session.id))
    assert may_listen(request, desk)
    store.sessions.revoke(session.id)
    assert not may_listen(request, desk)
    assert may_listen(request, Desk(store, Rules()))
