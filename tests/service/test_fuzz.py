"""A thousand requests that nobody would send in earnest: none of them is answered with a fault of ours.

Schemathesis makes requests from the service's own description; Hypothesis puts odd values at the edge of every field.
"""

import json
import warnings
from collections.abc import Iterator
from typing import Any, Final

import pytest
from fastapi import FastAPI
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from optimiser.storage import Store
from tests.cli.conftest import SHEET
from tests.service.conftest import BASE, NAME

pytestmark = pytest.mark.ci

DESCRIBED: Final = 14
"""Requests for each of the operations that the service describes."""

EDGES: Final = 500
DOCUMENTS: Final = 200
ODD: Final[tuple[Any, ...]] = (
    None,
    True,
    0,
    -1,
    1.5,
    1e308,
    "",
    "x",
    "\0",
    "\ud800",
    [],
    {},
    [1],
    {"a": 1},
    10**30,
    "2026-03-02",
)

STUDY = f"/api/studies/{NAME}"
SETTINGS = {"gain": "1:00", "stage": "pushed", "mic": "cap edge", "riffs": ["chugs", "held chord", "run", "two-note"]}
FIGURES = {"overall": 50.0, "reading": 6.0, "ear": 5, "note": "x"}
PAIR = {"reference": "0" * 32, "capture": "0" * 32}
VALID: Final[tuple[tuple[str, str, dict[str, Any]], ...]] = (
    ("POST", "/api/studies", {"sheet": SHEET, "reason": ""}),
    ("POST", f"{STUDY}/next", {"count": 1, "minutes": 20, "lock": {"gain": "1:00"}, "other": False}),
    ("POST", f"{STUDY}/trials", {"settings": SETTINGS, "failed": False, **FIGURES}),
    ("PATCH", f"{STUDY}/trials/1", {"settings": {"gain": 12}, "day": "2026-03-02", "clear": ["ear"], **FIGURES}),
    ("POST", f"{STUDY}/trials/2/void", {"reason": "x"}),
    ("POST", f"{STUDY}/trials/2/unvoid", {"reason": "x"}),
    ("POST", f"{STUDY}/undo", {"reason": "x"}),
    ("POST", f"{STUDY}/predict", {"settings": SETTINGS}),
    ("POST", f"{STUDY}/takes", {**PAIR, "trial": 4, "settings": SETTINGS, "reading": 6, "ear": 5, "note": ""}),
    ("PUT", f"{STUDY}/goal", {"recording": "0" * 32}),
    ("POST", f"{STUDY}/blind-tests", {"trial": 1, "tries": 5, "start_s": 1.0, "seconds": 1.0}),
    ("POST", "/api/uploads", {"name": "a.wav", "bytes": 1000, "sha256": "0" * 64}),
    ("POST", "/api/measure", {**PAIR, "goal": None}),
    ("POST", "/api/pairing", {"code": "x", "label": "x", "bearer": False}),
)
RAW: Final = (
    "NaN", "Infinity", "-Infinity", "1e308", "-1e308", "1e999", "1" * 400, "1" * 5000, "-0.0", "5e-324", "null", "true",
    "[]", "{}", '""', '" "', '"\\u0000"', '"\\ud800"', '"\\u202e"', '"../../etc/passwd"', '"\\r\\nSet-Cookie: a=b"',
    '"' + "x" * 100_000 + '"', "[" * 5000 + "]" * 5000, '{"a": NaN}', '[["a"]]', "1.5", "-1", "0", "99999999999",
    '{"gain": "1:30"}', '{"gain": 1e400}', '{"gain": {"radial_mm": NaN}}', '{"mic.radial_mm": 1}', '{"riffs": []}',
    '{"riffs": ["chugs", "chugs"]}', '{"": ""}', '{"gain": null, "stage": [], "mic": {}, "riffs": "a,b"}', '"1:00"',
    "{]",
)  # fmt: skip


@pytest.fixture
def fuzzed(app: FastAPI) -> Iterator[TestClient]:
    with TestClient(app, base_url=BASE, raise_server_exceptions=True) as opened:
        yield opened


def check(answered: Any) -> None:
    assert answered.status_code < 500, answered.text
    if answered.status_code >= 400 and answered.request.method != "HEAD":
        assert answered.headers["content-type"] == "application/problem+json"
        assert answered.json()["message"]
    elif answered.headers.get("content-type", "").startswith("application/json"):
        json.loads(answered.text, parse_constant=lambda name: pytest.fail(f"{name} is no JSON"))


def test_requests_made_from_the_description(app: FastAPI, fuzzed: TestClient) -> None:
    import schemathesis
    from schemathesis.core.result import Ok

    sent_so_far: list[int] = []
    schema = schemathesis.openapi.from_asgi("/api/openapi.json", app, headers={"Host": "127.0.0.1"})
    operations = [found.ok() for found in schema.get_all_operations() if isinstance(found, Ok)]
    assert len(operations) > 40
    for operation in operations:

        @given(case=operation.as_strategy(), known=st.booleans(), number=st.integers(1, 6))
        @settings(
            max_examples=DESCRIBED,
            database=None,
            deadline=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
            phases=[Phase.generate],
        )
        def asked(case: Any, known: bool, number: int) -> None:
            if known:
                found = {"name": NAME, "number": number, "figure": "progress"}
                case.path_parameters = {name: found.get(name, value) for name, value in case.path_parameters.items()}
            if case.path == "/api/events":
                case.headers["Accept"] = "application/json"
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", UserWarning)
                sent = case.as_transport_kwargs(base_url=BASE)
            kept = {name: sent[name] for name in ("method", "url", "params", "headers") if name in sent}
            answered = fuzzed.request(**kept, content=body_of(sent))
            check(answered)
            sent_so_far.append(answered.status_code)

        asked()
    assert len(sent_so_far) >= EDGES
    assert {200, 404, 422} <= set(sent_so_far)


def body_of(sent: dict[str, Any]) -> bytes | None:
    if sent.get("data") is not None:
        data = sent["data"]
        return data if isinstance(data, bytes) else str(data).encode("utf-8", "surrogatepass")
    return json.dumps(sent["json"]).encode() if "json" in sent else None


def test_odd_values_at_the_edge_of_every_field(fuzzed: TestClient, store: Store) -> None:
    fields = [(method, path, body, field) for method, path, body in VALID for field in (*body, "unknown")]

    @given(place=st.sampled_from(fields), raw=st.sampled_from(RAW), key=st.sampled_from(["", "k", "k2"]))
    @settings(
        max_examples=EDGES,
        database=None,
        deadline=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
        phases=[Phase.generate],
    )
    def asked(place: tuple[str, str, dict[str, Any], str], raw: str, key: str) -> None:
        method, path, body, field = place
        entries = {name: json.dumps(value) for name, value in body.items()} | {field: raw}
        text = "{" + ", ".join(f"{json.dumps(name)}: {value}" for name, value in entries.items()) + "}"
        headers = {"Content-Type": "application/json"} | ({"Idempotency-Key": key} if key else {})
        check(fuzzed.request(method, path, content=text.encode(), headers=headers))

    asked()
    for path in ("", "/trials", "/history", "/export", "/outlook", "/figures", "/mattered", "/recall/1"):
        check(fuzzed.get(f"{STUDY}{path}"))
    check(fuzzed.post(f"{STUDY}/next", json={}))
    events = store.events(NAME)
    assert [event.number for event in events] == list(range(1, len(events) + 1))


def places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The way to every entry of a document."""
    entries = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for step, entry in entries:
        yield (*path, step)
        yield from places(entry, (*path, step))


def test_an_exported_study_with_one_odd_entry_is_refused_or_can_be_read(
    store: Store, tmp_path_factory: pytest.TempPathFactory
) -> None:
    from optimiser.service import Rules, build_app
    from optimiser.storage import open_store
    from optimiser.workflow import export_document

    document = json.loads(json.dumps(export_document(store, NAME)))
    ways = list(places(document["events"]))
    seen: list[int] = []

    @given(way=st.sampled_from(ways), odd=st.sampled_from(ODD), gone=st.booleans())
    @settings(
        max_examples=DOCUMENTS,
        database=None,
        deadline=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
        phases=[Phase.generate],
    )
    def taken(way: tuple[Any, ...], odd: Any, gone: bool) -> None:
        events = json.loads(json.dumps(document["events"]))
        held = events
        for step in way[:-1]:
            held = held[step]
        if gone:
            del held[way[-1]]
        else:
            held[way[-1]] = odd
        with open_store(str(tmp_path_factory.mktemp("import") / "studies.db")) as other:
            client = TestClient(build_app(other, Rules()), base_url=BASE)
            body = json.dumps({"events": events}).encode()
            answered = client.post("/api/studies/import", content=body, headers={"Content-Type": "application/json"})
            check(answered)
            seen.append(answered.status_code)
            names = [study["name"] for study in client.get("/api/studies").json()["studies"]]
            for path in ("", "/trials", "/history", "/export", "/recall/1", "/excerpts/1") if names else ():
                check(client.get(f"/api/studies/{names[0]}{path}"))

    taken()
    assert {201, 422} <= set(seen)
