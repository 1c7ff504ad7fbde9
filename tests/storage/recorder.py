"""Run by the tests as a process of its own: appends events and says of each, once it is stored, its number and key.

recorder.py URL STUDY ACTOR COUNT
"""

import sys

from optimiser.storage import open_store
from optimiser.study import Event

AT = "2026-03-02T10:00:00+00:00"


def main(url: str, study: str, actor: str, count: int) -> None:
    with open_store(url) as store:
        for turn in range(count):
            with store.writing():
                seen = len(store.events(study))
                event = Event("measured", {"seen": seen}, AT, actor, key=f"{actor}-{turn}")
                (stored,) = store.append(study, event)
            sys.stdout.write(f"{stored.number} {stored.key}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], sys.argv[3], int(sys.argv[4]))
