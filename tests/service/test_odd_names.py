"""Two hundred odd names: none leaves the store's folder, splits a header, or is answered with a fault of ours."""

import hashlib
import random
from pathlib import Path
from urllib.parse import quote

import pytest
from starlette.testclient import TestClient

from tests.cli.conftest import SHEET

SEEDS = (
    "../../etc/passwd", "..\\..\\windows", "/abs/olute", "C:\\con", "con", "nul.wav", ".", "..", "...", "~root",
    "$HOME", "%2e%2e%2f", "a%00b", "a\0b", "a\r\nSet-Cookie: x=y", "a\nb", "\u202egpj.exe", "\ufeff", "x" * 300, " ",
    "", "-rf", "a;b", "a|b", "`id`", "$(id)", "<script>alert(1)</script>", "'; DROP TABLE study; --", "\U0001f3b8",
    "a/b", "a?b", "a#b", "\x7f", "\x1b[31m", "e\u0301", "{{7*7}}", "%s%n", "*", "file:///etc/passwd", "\\\\host\\share",
)  # fmt: skip


def odd_names(count: int = 200) -> list[str]:
    rng = random.Random(5)  # noqa: S311
    mixed = ["".join(rng.sample(SEEDS, 2)) for _ in range(count - len(SEEDS))]
    return [*SEEDS, *mixed]


@pytest.mark.ci
def test_odd_names_stay_labels(client: TestClient, tmp_path: Path) -> None:
    before = {path for path in tmp_path.rglob("*") if path.is_file() and ".audio/uploads" not in str(path)}
    sound = hashlib.sha256(b"x").hexdigest()
    for name in odd_names():
        for path in (f"/api/studies/{quote(name, safe='')}", f"/api/uploads/{quote(name, safe='')}"):
            asked = client.get(path)
            assert asked.status_code in (200, 404, 405), (name, asked.status_code)
            if asked.status_code == 200:
                assert "studies" in asked.json() or name in (".", "..") or "#" in name, name
        begun = client.post("/api/uploads", json={"name": name, "bytes": 1, "sha256": sound})
        assert begun.status_code in (201, 422), (name, begun.text)
        assert "set-cookie" not in begun.headers
        if begun.status_code == 201:
            assert begun.json()["name"] == name.strip()
            client.delete(f"/api/uploads/{begun.json()['upload']}")
        toml = SHEET.replace('"club-amp"', '"' + "".join(f"\\U{ord(letter):08x}" for letter in name) + '"')
        started = client.post("/api/studies", json={"sheet": toml})
        assert started.status_code == 422 or started.json()["study"] == name.strip(), (name, started.text)
    after = {path for path in tmp_path.rglob("*") if path.is_file() and ".audio/uploads" not in str(path)}
    assert {path.name for path in after - before} <= {"studies.db-wal", "studies.db-shm", "studies.db.lock"}
