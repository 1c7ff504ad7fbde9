"""Long runs that are asked for: what a job needs is checked now, and done by the worker later."""

from collections.abc import Mapping
from datetime import UTC, datetime
from http import HTTPStatus
from typing import Any, Final

from starlette.responses import Response

from optimiser.errors import BadUse
from optimiser.service.answers import answer
from optimiser.service.desk import Caller, Desk
from optimiser.service.problems import refusal
from optimiser.storage import Job
from optimiser.workflow import View

MOST_WAITING: Final = 50
"""Jobs that may wait at one time (a choice, no source)."""


def order(
    desk: Desk, by: Caller, kind: str, study: str, uploads: Mapping[str, str], said: Mapping[str, Any] | None = None
) -> Response:
    """Ask the worker for something: 202 and the job, where it can be followed.

    Args:
        desk: of the service.
        by: who asks.
        kind: `take`, `goal` or `measure`.
        study: whose it is, empty for none.
        uploads: ids of finished uploads, by what they are.
        said: what else the job needs.

    Raises:
        NotFound: no such upload.
        BadUse: an upload that is not finished.
    """
    known = desk.store.jobs.with_key(study, by.key) if by.key else None
    if known is None:
        labels = {part: _label(desk, upload) for part, upload in uploads.items()}
        if len(desk.store.jobs.unfinished()) >= MOST_WAITING:
            return refusal(HTTPStatus.TOO_MANY_REQUESTS, "Too many jobs wait.", {"Retry-After": "10"})
        now = datetime.now(UTC)
        body = {
            "uploads": dict(uploads),
            "labels": labels,
            "at": now.isoformat(),
            "actor": by.actor,
            **(said or {}),
        }
        known = desk.store.jobs.add(kind, study, body, now, by.key)
        desk.wake()
    elif known.kind != kind:
        raise BadUse(f"The key {by.key} belongs to another change.", "Give each change a key of its own.")
    place = f"{'../../' if study else ''}jobs/{known.id}"
    return answer(job_view(known), HTTPStatus.ACCEPTED, {"Location": place})


def _label(desk: Desk, upload: str) -> str:
    found = desk.store.uploads.get(upload)
    if not found.whole:
        raise BadUse(f"{found.name} is not here yet.", f"Send it on from byte {found.offset}.")
    return found.name


def job_view(job: Job) -> View:
    """A job as it is told."""
    return {
        "job": job.id,
        "study": job.study or None,
        "kind": job.kind,
        "state": job.state,
        "progress": job.progress,
        "trial": (job.body.get("answer") or {}).get("trial"),
        "result": None if job.state == "failed" else job.result,
        "error": (job.result or {}).get("error") if job.state == "failed" else None,
        "created_at": job.created_at,
        "changed_at": job.changed_at,
    }
