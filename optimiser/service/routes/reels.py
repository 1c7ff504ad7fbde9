"""Dry reels to be played: remembered with the study by the one request, fetched by the other."""

from pathlib import Path
from typing import Annotated, Literal
from urllib.parse import quote

from fastapi import APIRouter, Query
from starlette.responses import Response

from optimiser.service.answers import answer
from optimiser.service.bodies import ReelBody
from optimiser.service.desk import AtDesk, By
from optimiser.service.routes.listening import WAV
from optimiser.workflow import ReelWish, reel_bytes, remember_reel

router = APIRouter(prefix="/api/studies/{name}/reels", tags=["reels"])


@router.post("", status_code=201)
def make_reel(name: str, body: ReelBody, desk: AtDesk, by: By) -> Response:
    """Make a reel of the built-in riffs for a study: its layout is remembered, the file lies at `file`."""
    view = remember_reel(desk.store, name, _wish(name, body.kind, body.trial), by.stamp())
    asked = "" if body.trial is None else f"?trial={body.trial}"
    return answer({**view, "file": f"reels/{body.kind}.wav{asked}"}, 201)


@router.get("/{kind}.wav")
def reel(
    name: str,
    kind: Literal["learning", "proof", "verify"],
    desk: AtDesk,
    trial: Annotated[int | None, Query(ge=1, le=1_000_000)] = None,
) -> Response:
    """The reel itself, to be played from a recorder."""
    content = reel_bytes(desk.store, name, _wish(name, kind, trial))
    said = f"attachment; filename*=UTF-8''{quote(f'{name}-{kind}.wav', safe='')}"
    return Response(content, headers={"Content-Disposition": said}, media_type=WAV)


def _wish(name: str, kind: str, trial: int | None) -> ReelWish:
    return ReelWish(kind, Path(f"{name}-{kind}.wav"), trial=trial)
