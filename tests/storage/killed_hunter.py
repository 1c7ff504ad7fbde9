"""Run by the tests as a process of its own: a hunter who is killed while writing trials down, again and again.

killed_hunter.py URL KILLS      says how many trials were acknowledged and how many the killed never heard of

Each hunter is a fork of this process, so that it starts at once. After each kill every acknowledged trial must be there
once, and the trial that was being written is sent again with its key, as a terminal that lost its answer would.
"""

import os
import random
import signal
import sqlite3
import sys
import time
from contextlib import closing

from optimiser.storage import open_store
from optimiser.study import fold
from tests.storage.hunter import write_down

MOST_S = 0.3


def hunt(url: str, actor: str, pipe: int) -> None:
    with open_store(url, create=False) as store:
        for turn in range(10_000):
            key, number = write_down(store, actor, turn)
            os.write(pipe, f"{key} {number}\n".encode())


def killed(url: str, actor: str, after_s: float) -> dict[str, int]:
    """What a hunter had acknowledged when it was killed some time after its first trial."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            hunt(url, actor, writing)
        finally:
            os._exit(1)
    os.close(writing)
    with os.fdopen(reading, buffering=1) as pipe:
        first = pipe.readline()
        time.sleep(after_s)
        os.kill(child, signal.SIGKILL)
        said = first + pipe.read()
    os.waitpid(child, 0)
    whole = said[: said.rfind("\n") + 1]
    return {key: int(number) for key, number in (line.split() for line in whole.splitlines())}


def look(url: str, known: dict[str, int]) -> dict[str, int]:
    """Every trial by its key, when each is there once, all numbers follow each other, and none is lost."""
    if url.startswith("sqlite"):
        with closing(sqlite3.connect(url.removeprefix("sqlite:///"))) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    with open_store(url, create=False) as store:
        (study,) = store.census()
        assert study.faults == (), study.faults
        events = store.events("combo")
    stored = {event.key: int(event.body["trial"]["trial"]) for event in events[1:]}
    assert len(stored) == len(events) - 1
    assert sorted(stored.values()) == list(range(1, len(events)))
    assert known.items() <= stored.items()
    return stored


def main(url: str, kills: int) -> None:
    draw = random.Random(20260304)  # noqa: S311
    known: dict[str, int] = {}
    unheard = 0
    for turn in range(kills):
        actor = f"run{turn}"
        said = killed(url, actor, draw.uniform(0.0, MOST_S))
        assert said
        known |= said
        stored = look(url, known)
        unheard += len(stored) - len(known)
        with open_store(url, create=False) as store:
            key, number = write_down(store, actor, len(said))
        assert stored.get(key, number) == number
        known = look(url, {**known, key: number})
    with open_store(url, create=False) as store:
        assert len(fold(store.events("combo")).study.trials) == len(known)
    sys.stdout.write(f"{kills} kills, {len(known)} trials, 0 lost, 0 doubled, {unheard} written and never heard of\n")


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
