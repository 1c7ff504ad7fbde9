"""Long runs that wait for a worker, each taken up under a lease that runs out when its worker is gone."""

import json
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from optimiser.errors import BadUse, NotFound
from optimiser.storage.rows import storable

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from optimiser.storage.connections import Connections

LEASE_S: Final = 60.0
"""Seconds after which a job whose worker did not report is taken up again (no source)."""

MOST_TRIES: Final = 3
"""Times a job is taken up; what killed so many workers would kill the next (no source)."""

_LOST: Final = {
    "error": {
        "code": "worker_lost",
        "message": "Measuring stopped without an answer, time and again; the files may be damaged or too large.",
        "hint": "Export both recordings again as 24-bit WAV and hand them over anew.",
    }
}


@dataclass(frozen=True)
class Job:
    """One long run.

    Attributes:
        id: 32 hexadecimal digits.
        turn: place in the queue, from 1.
        study: whose it is, empty for none.
        kind: what is to be done.
        key: idempotency key; a study has one job of a key.
        state: `waiting`, `running`, `done` or `failed`.
        body: what it needs, as JSON values.
        progress: what is going on, in words.
        result: what came of it; a failed one holds `error`.
        worker: who runs it or ran it.
        lease_until: seconds since 1970 until which its worker may be silent.
        tries: how often it was taken up.
        created_at: when it was asked for, ISO 8601.
        changed_at: when its state or progress changed last, ISO 8601.
    """

    id: str
    turn: int
    study: str
    kind: str
    key: str
    state: str
    body: Mapping[str, Any]
    progress: str
    result: Mapping[str, Any] | None
    worker: str
    lease_until: float
    tries: int
    created_at: str
    changed_at: str

    def lapsed(self, now: datetime) -> bool:
        """Whether its worker is taken for lost; a lease that ends later than any can is void, the clock was moved."""
        left_s = self.lease_until - now.timestamp()
        return self.state == "running" and not 0.0 <= left_s <= LEASE_S


class JobTable:
    """The queue of long runs."""

    def __init__(self, connections: "Connections") -> None:
        self._connections = connections

    def add(self, kind: str, study: str, body: Mapping[str, Any], now: datetime, key: str = "") -> Job:
        """Put a job at the end of the queue, durable on return; the same key again gives the job that is there.

        Raises:
            BadUse: the key belongs to a job of another kind.
            BadInput: a text that no database keeps.
        """
        from sqlalchemy import func, insert, select

        from optimiser.storage.tables import JOB

        at = now.isoformat(timespec="seconds")
        entries = {"study": storable(study, "study"), "kind": kind, "key": storable(key, "key") or None}
        with self._connections.writing(), self._connections.transaction() as connection:
            known = _with_key(connection, study, key) if key else None
            if known is not None:
                if known.kind != kind:
                    raise BadUse(f"The key {key} belongs to another change.", "Give each change a key of its own.")
                return known
            turn = int(connection.execute(select(func.coalesce(func.max(JOB.c.turn), 0))).scalar_one()) + 1
            row = {
                **entries,
                "id": secrets.token_hex(16),
                "turn": turn,
                "state": "waiting",
                "body": json.dumps(body, allow_nan=False),
                "progress": "",
                "result": None,
                "worker": "",
                "lease_until": 0.0,
                "tries": 0,
                "created_at": at,
                "changed_at": at,
            }
            connection.execute(insert(JOB).values(row))
        return _job(row)

    def get(self, job: str) -> Job:
        """The job of that id.

        Raises:
            NotFound: there is none.
        """
        from sqlalchemy import select

        from optimiser.storage.rows import is_storable
        from optimiser.storage.tables import JOB

        with self._connections.reading() as connection:
            found = connection.execute(select(JOB).where(JOB.c.id == job)) if is_storable(job) else None
            row = found.mappings().first() if found is not None else None
        if row is None:
            raise NotFound(f"There is no job {job[:32]!r}.", "Ask for the id that was given when it was begun.")
        return _job(dict(row))

    def with_key(self, study: str, key: str) -> Job | None:
        """The job of a study that carries a key."""
        if not key:
            return None
        with self._connections.reading() as connection:
            return _with_key(connection, study, key)

    def newest(self, most: int) -> tuple[Job, ...]:
        """The jobs that were asked for last, the newest first."""
        from sqlalchemy import select

        from optimiser.storage.tables import JOB

        with self._connections.reading() as connection:
            rows = connection.execute(select(JOB).order_by(JOB.c.turn.desc()).limit(most)).mappings()
            return tuple(_job(dict(row)) for row in rows)

    def unfinished(self) -> tuple[Job, ...]:
        """The jobs that wait or run, in the order of their turn."""
        with self._connections.reading() as connection:
            return _unfinished(connection)

    def take_up(self, worker: str, now: datetime) -> Job | None:
        """Lease the first job that waits or whose worker is lost; None when there is nothing to do."""
        if not any(_free(job, now) for job in self.unfinished()):
            return None
        with self._connections.writing(), self._connections.transaction() as connection:
            for job in (job for job in _unfinished(connection) if _free(job, now)):
                if job.tries >= MOST_TRIES:
                    _change(connection, job.id, now, state="failed", result=json.dumps(_LOST))
                    continue
                lease = {"worker": worker, "lease_until": now.timestamp() + LEASE_S, "tries": job.tries + 1}
                return _change(connection, job.id, now, state="running", progress="", **lease)
        return None

    def report(self, job: str, worker: str, now: datetime, progress: str | None = None) -> bool:
        """Renew the lease of a job, and tell its progress; False when it is no longer this worker's."""
        said = {} if progress is None else {"progress": progress}
        with self._connections.writing(), self._connections.transaction() as connection:
            if not _is_run_by(connection, job, worker):
                return False
            _change(connection, job, now if said else None, lease_until=now.timestamp() + LEASE_S, **said)
        return True

    def finish(self, job: str, worker: str, now: datetime, result: Mapping[str, Any]) -> bool:
        """Keep what came of a job; False when it is no longer this worker's."""
        state = "failed" if "error" in result else "done"
        text = json.dumps(result, allow_nan=False)
        with self._connections.writing(), self._connections.transaction() as connection:
            if not _is_run_by(connection, job, worker):
                return False
            _change(connection, job, now, state=state, result=text, progress="")
        return True

    def let_go(self, worker: str, now: datetime, *, on_purpose: bool = False) -> None:
        """End the leases of a worker that is known to be gone; one that was ended on purpose counts as no try."""
        if not any(job.worker == worker and job.state == "running" for job in self.unfinished()):
            return
        with self._connections.writing(), self._connections.transaction() as connection:
            for job in _unfinished(connection):
                if job.worker == worker and job.state == "running":
                    tries = job.tries - 1 if on_purpose else job.tries
                    _change(connection, job.id, now, state="waiting", lease_until=0.0, tries=tries)


def _free(job: Job, now: datetime) -> bool:
    return job.state == "waiting" or job.lapsed(now)


def _unfinished(connection: "Connection") -> tuple[Job, ...]:
    from sqlalchemy import select

    from optimiser.storage.tables import JOB

    found = select(JOB).where(JOB.c.state.in_(("waiting", "running"))).order_by(JOB.c.turn)
    return tuple(_job(dict(row)) for row in connection.execute(found).mappings())


def _with_key(connection: "Connection", study: str, key: str) -> Job | None:
    from sqlalchemy import select

    from optimiser.storage.tables import JOB

    row = connection.execute(select(JOB).where(JOB.c.study == study, JOB.c.key == key)).mappings().first()
    return _job(dict(row)) if row is not None else None


def _is_run_by(connection: "Connection", job: str, worker: str) -> bool:
    from sqlalchemy import select

    from optimiser.storage.tables import JOB

    held = select(JOB.c.id).where(JOB.c.id == job, JOB.c.worker == worker, JOB.c.state == "running")
    return connection.execute(held).first() is not None


def _change(connection: "Connection", job: str, now: datetime | None, **entries: Any) -> Job:
    """Change a job's row; without a time its last change keeps its own."""
    from sqlalchemy import select, update

    from optimiser.storage.tables import JOB

    changed = {} if now is None else {"changed_at": now.isoformat(timespec="milliseconds")}
    connection.execute(update(JOB).where(JOB.c.id == job).values(**entries, **changed))
    return _job(dict(connection.execute(select(JOB).where(JOB.c.id == job)).mappings().one()))


def _job(row: Mapping[str, Any]) -> Job:
    result = None if row["result"] is None else json.loads(row["result"])
    return Job(**{**row, "key": row["key"] or "", "body": json.loads(row["body"]), "result": result})
