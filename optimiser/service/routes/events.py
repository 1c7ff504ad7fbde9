"""What changed, as it happens: a stream of server-sent events, or the same asked for again and again."""

import asyncio
import json
from collections.abc import AsyncIterator, Mapping
from typing import Annotated, Any, Final

from fastapi import APIRouter, Header, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response, StreamingResponse

from optimiser.errors import OptimiserError
from optimiser.service.answers import answer, is_known, not_modified, tag_of
from optimiser.service.desk import AtDesk, Desk
from optimiser.service.orders import job_view
from optimiser.service.problems import refusal

router = APIRouter(prefix="/api", tags=["events"])

LOOK_S: Final = 0.7
"""Seconds between two looks, so that another screen shows a change within two (a choice, no source)."""

ALIVE_S: Final = 15.0
"""Seconds after which a silent stream says that it is alive, for proxies that close silent ones (no source)."""

MOST_STREAMS: Final = 50
_NEWEST_JOBS: Final = 10


@router.get("/events", response_class=Response)
async def events(
    request: Request,
    desk: AtDesk,
    after: Annotated[int | None, Query(ge=0, le=1 << 53, description="The newest place that is known.")] = None,
    last_event_id: Annotated[str, Header(max_length=20)] = "",
) -> Response:
    """Changes of all studies and jobs: a stream for `Accept: text/event-stream`, else JSON of what came after a place.

    Events of the stream are `change` (a study's event, its id the place) and `job`.
    """
    if last_event_id.isascii() and last_event_id.isdigit():
        after = int(last_event_id)
    if "text/event-stream" not in request.headers.get("accept", ""):
        told = await run_in_threadpool(_changes, desk, after)
        tag = tag_of(request, json.dumps(told, sort_keys=True))
        return not_modified(tag) if is_known(request, tag) else answer(told, headers={"ETag": tag})
    if desk.streams >= MOST_STREAMS:
        return refusal(429, "Too many pages listen at once.", {"Retry-After": "10"})
    return StreamingResponse(_stream(request, desk, after), media_type="text/event-stream")


def _changes(desk: Desk, after: int | None) -> dict[str, Any]:
    place = desk.store.place() if after is None else after
    changes = desk.store.changes(place)
    return {
        "place": changes[-1].place if changes else place,
        "changes": [vars(change) for change in changes],
        "jobs": [job_view(job) for job in desk.store.jobs.newest(_NEWEST_JOBS)],
    }


async def _stream(request: Request, desk: Desk, after: int | None) -> AsyncIterator[str]:
    desk.streams += 1
    try:
        told = await run_in_threadpool(_changes, desk, after)
        known = {job["job"]: job for job in told["jobs"]} if after is None else {}
        yield f"retry: 2000\n{_event('place', {'place': told['place']}, told['place'])}"
        silent_s = 0.0
        while not await request.is_disconnected() and await run_in_threadpool(may_listen, request, desk):
            said = _said(told, known)
            if said or silent_s >= ALIVE_S:
                yield said or ": alive\n\n"
                silent_s = 0.0
            await asyncio.sleep(LOOK_S)
            silent_s += LOOK_S
            told = await run_in_threadpool(_changes, desk, told["place"])
    except OptimiserError:
        return  # the store is busy or gone; the page connects again and learns what it missed
    finally:
        desk.streams -= 1


def may_listen(request: Request, desk: Desk) -> bool:
    """Whether the device that listens was not shut out meanwhile."""
    own = getattr(request.state, "session", None)
    return not desk.rules.paired or own in [session.id for session in desk.store.sessions.all()]


def _said(told: Mapping[str, Any], known: dict[str, Any]) -> str:
    """The events of one look; what is said of a job is remembered in `known`."""
    said = [_event("change", change, change["place"]) for change in told["changes"]]
    for job in reversed(told["jobs"]):
        if known.get(job["job"]) != job:
            known[job["job"]] = job
            said.append(_event("job", {name: entry for name, entry in job.items() if name != "result"}))
    return "".join(said)


def _event(kind: str, told: Mapping[str, Any], place: int | None = None) -> str:
    number = "" if place is None else f"id: {place}\n"
    return f"{number}event: {kind}\ndata: {json.dumps(told)}\n\n"
