"""Studies: what there is, their sheets, what happened in them, and the way in and out as one document."""

import json
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Body, Query, Request
from starlette.responses import Response

from optimiser.service.answers import JSON, answer, is_known, not_modified, study_answer, tag_of
from optimiser.service.bodies import GoalBody, SheetBody
from optimiser.service.desk import AtDesk, By
from optimiser.service.orders import order
from optimiser.workflow import all_studies, export_document, finite, history, import_document, start, study_view

router = APIRouter(prefix="/api/studies", tags=["studies"])


@router.get("")
def studies(request: Request, desk: AtDesk) -> Response:
    """Every study and where it stands."""
    tag = tag_of(request, desk.store.place())
    return not_modified(tag) if is_known(request, tag) else answer(all_studies(desk.store), headers={"ETag": tag})


@router.post("", status_code=201)
def start_study(body: SheetBody, desk: AtDesk, by: By) -> Response:
    """Start a study (201), or give the study of that name a new version of its sheet (200)."""
    view = start(desk.store, body.sheet, by.stamp(body.reason))
    return answer(view, 201 if view["new"] else 200)


@router.post("/import", status_code=201)
def import_study(body: Annotated[dict[str, Any], Body()], desk: AtDesk) -> Response:
    """Take in what `export` gave, with everything that happened in it."""
    return answer(import_document(desk.store, body, "The body"), 201)


@router.get("/{name}")
def study(name: str, request: Request, desk: AtDesk) -> Response:
    """One study as it stands: its sheet, the proposals that wait, the best trial and the one that was made last."""
    return study_answer(request, desk, name, lambda: study_view(desk.store, name))


@router.get("/{name}/history")
def what_happened(name: str, desk: AtDesk, trial: Annotated[int | None, Query(ge=1, le=1_000_000)] = None) -> Response:
    """Everything that happened, or what happened to one trial, with its time and reason."""
    return answer(history(desk.store, name, trial))


@router.get("/{name}/export")
def export(name: str, desk: AtDesk) -> Response:
    """Sheet, trials and events as one file, which `import` and `optimiser import-study` read."""
    document = finite(export_document(desk.store, name))
    disposition = f"attachment; filename*=UTF-8''{quote(name, safe='')}.json"
    return Response(json.dumps(document, indent=1), headers={"Content-Disposition": disposition}, media_type=JSON)


@router.put("/{name}/goal", status_code=202)
def goal(name: str, body: GoalBody, desk: AtDesk, by: By) -> Response:
    """Keep the wanted tone; a job, as takes made before are scored against it."""
    desk.store.newest(name)
    return order(desk, by, "goal", name, {"recording": body.recording})
