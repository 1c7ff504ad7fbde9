"""Several people in several rooms write at once, are killed, and are backed up meanwhile; on every kind of database."""

import json
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, text

from optimiser.errors import StorageError
from optimiser.storage import Store, open_store
from optimiser.storage.census import prefix_digest
from optimiser.study import Event, fold
from optimiser.workflow import Stamp, backup, recover
from tests.storage.hunts import NOW, begin, keep_recording

ROOT = Path(__file__).parents[2]
PATIENCE_S = 600


def silent(_: str) -> None:
    pass


def hunters(url: str, what: str, count: int, turns: int) -> list[list[Any]]:
    """Everything that several hunters said, when none of them failed."""
    words = [sys.executable, "-m", "tests.storage.hunter", what, url]
    children = [
        subprocess.Popen(
            [*words, f"hunter{place}", str(turns)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT
        )
        for place in range(count)
    ]
    said = [child.communicate(timeout=PATIENCE_S) for child in children]
    assert [(child.returncode, err) for child, (_, err) in zip(children, said, strict=True)] == [(0, "")] * count
    return [json.loads(line) for out, _ in said for line in out.splitlines()]


def made(url: str) -> None:
    with open_store(url) as store:
        begin(store)


def killed_hunters(url: str, kills: int) -> str:
    made(url)
    words = [sys.executable, "-m", "tests.storage.killed_hunter", url, str(kills)]
    child = subprocess.run(words, capture_output=True, text=True, check=False, cwd=ROOT)
    assert child.returncode == 0, child.stderr[-2000:]
    sys.stdout.write(child.stdout)
    return child.stdout


@pytest.mark.ci
def test_nothing_is_lost_or_doubled_over_twenty_kills(url: str) -> None:
    assert "20 kills" in killed_hunters(url, 20)


@pytest.mark.by_hand
def test_nothing_is_lost_or_doubled_over_two_hundred_kills(url: str) -> None:
    assert "200 kills" in killed_hunters(url, 200)


@pytest.mark.ci
def test_eight_hunters_with_sixty_trials_each(url: str) -> None:
    made(url)
    longest = write_down_at_once(url, 8, 60)
    most = longest[int(len(longest) * 0.99)]
    sys.stdout.write(f"8 x 60 trials: slowest {longest[-1]:.2f} s, 99 % within {most:.2f} s\n")


def write_down_at_once(url: str, count: int, turns: int) -> list[float]:
    """Seconds that each trial took, rising."""
    said = hunters(url, "log", count, turns)
    by_key = {key: number for key, number, _ in said}
    assert len(by_key) == count * turns
    assert sorted(by_key.values()) == list(range(1, count * turns + 1))
    with open_store(url) as store:
        events = store.events("combo")
        assert [event.number for event in events] == list(range(1, count * turns + 2))
        assert {event.key: event.body["trial"]["trial"] for event in events[1:]} == by_key
        assert len(fold(events).study.trials) == count * turns
    return sorted(seconds for _, _, seconds in said)


@pytest.mark.ci
def test_no_proposal_is_handed_out_as_two_trials(url: str) -> None:
    """Who asks while another's proposal waits gets that one; whoever answers second is told and asks again."""
    made(url)
    said = hunters(url, "ask", 6, 4)
    seen: dict[int, Any] = {}
    for number, settings, _ in said:
        assert seen.setdefault(number, settings) == settings
    answered = [number for number, _, first in said if first]
    assert len(answered) == len(set(answered))
    with open_store(url) as store:
        events = store.events("combo")
    proposed = [event.body["proposal"] for event in events if event.kind == "proposed"]
    assert [proposal["trial"] for proposal in proposed] == list(range(1, len(proposed) + 1))
    first_design = [json.dumps(p["settings"]) for p in proposed if p["kind"] == "first design"]
    assert len(first_design) == len(set(first_design))
    assert sorted(answered) == list(range(1, len(answered) + 1))
    assert sorted(seen) == [proposal["trial"] for proposal in proposed]


def backups_under_load(url: str, folder: Path, count: int) -> list[int]:
    """How many events each of several backups held that were made while others wrote; all of them are recovered."""
    made(url)
    with open_store(url) as store:
        keep_recording(store, folder / "goal.wav", b"the wanted tone" * 1000)
    hunting = threading.Thread(target=hunters, args=(url, "log", 2, 3 * count))
    hunting.start()
    held = []
    with open_store(url) as store:
        for turn in range(count):
            keep_recording(store, folder / "take.wav", f"take {turn}".encode() * 500)
            backup(store, folder / f"kept-{turn}.db", replace=False, tell=silent)
    hunting.join()
    with open_store(url) as store, store.connections.reading() as connection:
        for turn in range(count):
            elsewhere = folder / f"elsewhere-{turn}" / "studies.db"
            elsewhere.parent.mkdir()
            recover(folder / f"kept-{turn}.db", str(elsewhere), Stamp(NOW), silent)
            with open_store(str(elsewhere), create=False) as found:
                (study,) = found.census()
                assert study.digest == prefix_digest(connection, "combo", study.events)
                assert len(found.audio.entries()) == turn + 2
                assert all(found.audio.path(kept.sha256).stat().st_size == kept.bytes for kept in found.audio.entries())
            held.append(study.events)
    assert held == sorted(held)
    return held


def test_a_backup_made_while_others_write_is_a_state_that_was(url: str, tmp_path: Path) -> None:
    assert len(set(backups_under_load(url, tmp_path, 3))) == 3


@pytest.mark.ci
def test_twenty_backups_made_while_others_write_are_states_that_were(url: str, tmp_path: Path) -> None:
    held = backups_under_load(url, tmp_path, 20)
    sys.stdout.write(f"20 backups held {held} events\n")
    assert len(set(held)) == 20


@pytest.mark.ci
def test_a_server_that_drops_everybody_is_told_and_serves_again(server_url: str) -> None:
    with open_store(server_url) as store:
        begin(store)
        with store.writing():
            drop_everybody(server_url)
            with pytest.raises(StorageError, match="cannot be used") as caught:
                append(store)
        assert "\n" not in str(caught.value)
        assert "server" in caught.value.hint
        assert append(store).number == 2


def append(store: Store) -> Event:
    with store.writing():
        return store.append("combo", Event("reel made", {"reel": {"kind": "proof"}}, NOW.isoformat()))[0]


def drop_everybody(server_url: str) -> None:
    engine = create_engine(server_url)
    with engine.begin() as connection:
        others = "pid <> pg_backend_pid() AND datname = current_database()"
        connection.execute(text(f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE {others}"))  # noqa: S608
    engine.dispose()
