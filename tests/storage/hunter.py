"""Run by the tests as processes of their own: hunters who write down trials at once, by the steps a terminal takes.

hunter.py log URL ACTOR COUNT      writes down trials of its own with keys: says key, trial, seconds it took
hunter.py ask URL ACTOR COUNT      asks what to try and answers: says what it was given, and whether it was first
"""

import json
import sys
import time
from datetime import UTC, datetime

from optimiser.errors import BadUse
from optimiser.storage import Store, open_store
from optimiser.workflow import Answer, Stamp, Wish, log, next_trials

NOW = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)


def say(*words: object) -> None:
    sys.stdout.write(json.dumps(words) + "\n")
    sys.stdout.flush()


def write_down(store: Store, actor: str, turn: int) -> tuple[str, int]:
    """One trial under a key; the same key again gives the same trial."""
    key = f"{actor}-{turn}"
    answer = Answer(settings={"gain": 9.0 + turn % 60 / 10, "stage": "open"}, figures={"overall": float(turn % 100)})
    return key, int(log(store, "combo", answer, Stamp(NOW, actor, key=key))["trial"])


def ask_and_answer(store: Store, actor: str, turn: int) -> None:
    (proposal,) = next_trials(store, "combo", Wish(), Stamp(NOW, actor))["proposals"]
    number = proposal["trial"]
    try:
        log(
            store, "combo", Answer(number, figures={"overall": 40.0 + number}), Stamp(NOW, actor, key=f"{actor}-{turn}")
        )
        first = True
    except BadUse:  # somebody else had made it meanwhile
        first = False
    say(number, proposal["settings"], first)


def main(what: str, url: str, actor: str, count: int) -> None:
    with open_store(url, create=False, wait_s=60.0) as store:
        for turn in range(count):
            if what == "ask":
                ask_and_answer(store, actor, turn)
                continue
            began = time.perf_counter()
            key, number = write_down(store, actor, turn)
            say(key, number, time.perf_counter() - began)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], sys.argv[3], int(sys.argv[4]))
