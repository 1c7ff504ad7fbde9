"""Long runs: how far they are, and measuring a pair without a study."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from optimiser.service.answers import answer, is_known, not_modified, tag_of
from optimiser.service.bodies import MeasureBody
from optimiser.service.desk import AtDesk, By
from optimiser.service.orders import job_view, order

router = APIRouter(prefix="/api", tags=["jobs"])


@router.get("/jobs")
def jobs(desk: AtDesk, most: Annotated[int, Query(ge=1, le=100)] = 20) -> Response:
    """The long runs that were asked for last, the newest first."""
    return answer({"jobs": [job_view(job) for job in desk.store.jobs.newest(most)]})


@router.get("/jobs/{job}")
def one_job(job: str, request: Request, desk: AtDesk) -> Response:
    """A long run: `waiting`, `running` with its progress, `done` with its result, or `failed` with its error."""
    found = desk.store.jobs.get(job)
    tag = tag_of(request, found.state, found.progress, found.changed_at)
    return not_modified(tag) if is_known(request, tag) else answer(job_view(found), headers={"ETag": tag})


@router.post("/measure", status_code=202)
def measure(body: MeasureBody, desk: AtDesk, by: By) -> Response:
    """Measure how alike two recordings of one reel are, without a study; a job."""
    uploads = {"reference": body.reference, "capture": body.capture, **({"goal": body.goal} if body.goal else {})}
    return order(desk, by, "measure", "", uploads)
