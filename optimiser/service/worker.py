"""The worker: a process of its own that measures, with limits on memory and processor, so that a crash costs one job.

worker.py NAME, with the store in OPTIMISER_STORE. A line on standard input wakes it; when that ends, so does it.
"""

import os
import sys
import threading
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from optimiser.errors import Busy, OptimiserError, outcome_of
from optimiser.storage import LEASE_S, Job, Store, open_store
from optimiser.workflow import Answer, Stamp, View, called, finite, measure_view, record_goal, take

MOST_ADDRESSES: Final = 2 << 30
"""Bytes of address space (a choice, no source); measuring half an hour of stereo stays far below."""

MOST_CPU_S: Final = 900
"""Seconds of processor for one job (a choice, no source)."""

LOOK_S: Final = 2.0
"""Seconds between two looks when nobody wakes the worker (a choice, no source)."""

Tell = Callable[[str], None]


def main(name: str) -> None:
    """Do what waits, for as long as standard input is open."""
    woken = threading.Event()
    threading.Thread(target=_listen, args=(woken,), daemon=True).start()
    _limit_memory()
    with open_store(create=False) as store:
        while True:
            woken.clear()
            try:
                while work_once(store, name):
                    pass
            except Busy:
                pass  # somebody else writes; the job waits and is looked at again
            woken.wait(LOOK_S)


def work_once(store: Store, name: str) -> bool:
    """Do the first job that waits; False when there is none."""
    job = store.jobs.take_up(name, datetime.now(UTC))
    if job is None:
        return False
    over = threading.Event()
    pulse = threading.Thread(target=_keep_alive, args=(store, job, name, over), daemon=True)
    pulse.start()
    _limit_processor()
    try:
        result = _outcome(store, job, lambda text: _report(store, job, name, text))
    finally:
        over.set()
        pulse.join()
    if store.jobs.finish(job.id, name, datetime.now(UTC), finite(result)) and "error" not in result:
        for upload in job.body["uploads"].values():
            store.uploads.drop(upload)
    return True


def _outcome(store: Store, job: Job, tell: Tell) -> View:
    """The view of what was done, or what there is to say against it."""
    names = dict(zip(job.body["uploads"].values(), job.body["labels"].values(), strict=True))
    try:
        return _done(store, job, tell)
    except Busy:
        raise
    except OptimiserError as error:
        told = {"code": error.code, "message": called(error.message, names), "hint": called(error.hint, names)}
        return {"error": {**told, "status": outcome_of(error).status}}
    except MemoryError:
        hint = "Cut both to the reel, or measure them in a terminal."
        return {"error": {"code": "too_large", "message": "The recordings need too much memory.", "hint": hint}}
    except Exception as error:  # one job must not end the worker
        text = f"This is a fault in optimiser itself: {type(error).__name__}: {error}".splitlines()[0]
        return {"error": {"code": "bug", "message": text, "hint": "What was stored stays stored."}}


def _done(store: Store, job: Job, tell: Tell) -> View:
    body = job.body
    files = {part: store.uploads.get(upload).path for part, upload in body["uploads"].items()}
    stamp = Stamp(datetime.fromisoformat(body["at"]), body["actor"], key=job.key or f"job {job.id}")
    tell("measuring")
    match job.kind:
        case "take":
            return _take(store, job, files, stamp)
        case "goal":
            return record_goal(store, job.study, files["recording"], stamp, tell, label=body["labels"]["recording"])
    return measure_view(files["reference"], files["capture"], files.get("goal"))


def _take(store: Store, job: Job, files: Mapping[str, Path], stamp: Stamp) -> View:
    said: Mapping[str, Any] = job.body["answer"]
    labels = job.body["labels"]
    return take(
        store,
        job.study,
        (files["reference"], files["capture"]),
        Answer(said["trial"], said["settings"], said["figures"], said["note"]),
        stamp,
        labels=(labels["reference"], labels["capture"]),
    )


def _report(store: Store, job: Job, name: str, text: str) -> None:
    store.jobs.report(job.id, name, datetime.now(UTC), text)


def _keep_alive(store: Store, job: Job, name: str, over: threading.Event) -> None:
    while not over.wait(LEASE_S / 4):
        try:
            store.jobs.report(job.id, name, datetime.now(UTC))
        except OptimiserError:
            continue  # the lease holds for three more of these


def _listen(woken: threading.Event) -> None:
    for _ in sys.stdin:
        woken.set()
    os._exit(0)


def _limit_memory() -> None:
    if os.name == "posix":
        import resource

        hard = resource.getrlimit(resource.RLIMIT_AS)[1]
        most = MOST_ADDRESSES if hard == resource.RLIM_INFINITY else min(MOST_ADDRESSES, hard)
        resource.setrlimit(resource.RLIMIT_AS, (most, hard))


def _limit_processor() -> None:
    """So many seconds from now; the kernel ends the process that takes more."""
    if os.name == "posix":
        import resource

        used = resource.getrusage(resource.RUSAGE_SELF)
        hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
        most = int(used.ru_utime + used.ru_stime) + MOST_CPU_S
        soft = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(resource.RLIMIT_CPU, (soft, hard))


if __name__ == "__main__":
    main(sys.argv[1])
