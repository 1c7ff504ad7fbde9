"""What a study shows: outlook, what mattered, figures, recall sheets."""

import base64
import hashlib
from typing import Annotated, Any, Final

from fastapi import APIRouter, Path, Request
from starlette.responses import Response

from optimiser.errors import NotFound
from optimiser.review import RECALL_STYLE
from optimiser.service.answers import answer, is_known, not_modified, study_answer, tag_of
from optimiser.service.desk import AtDesk, By, Desk
from optimiser.workflow import drawn, outlook_of, recalled

router = APIRouter(prefix="/api/studies/{name}", tags=["review"])

_STYLE_SUM: Final = base64.b64encode(hashlib.sha256(RECALL_STYLE.encode()).digest()).decode()
SHEET_POLICY: Final = f"default-src 'none'; style-src 'sha256-{_STYLE_SUM}'; frame-ancestors 'none'; base-uri 'none'"
"""A recall sheet brings its own style and nothing else."""


@router.get("/outlook")
def outlook(name: str, request: Request, desk: AtDesk) -> Response:
    """What further trials could still gain, and what to keep now."""
    key = ("outlook", name, desk.store.newest(name))
    return study_answer(request, desk, name, lambda: desk.looks.get(key, lambda: outlook_of(desk.store, name)))


@router.get("/mattered")
def mattered(name: str, request: Request, desk: AtDesk) -> Response:
    """The share of the score's variation owed to each setting, with its 90 % interval."""
    tag = tag_of(request, desk.store.newest(name))
    if is_known(request, tag):
        return not_modified(tag)
    known = _drawn(desk, name)
    return answer({entry: known[entry] for entry in ("study", "event", "mattered")}, headers={"ETag": tag})


@router.get("/figures")
def figures(name: str, request: Request, desk: AtDesk) -> Response:
    """Which figures there are, what each one finds, and the table behind it."""
    tag = tag_of(request, desk.store.newest(name))
    if is_known(request, tag):
        return not_modified(tag)
    known = _drawn(desk, name)
    told = [
        {"name": figure, **{entry: view[entry] for entry in ("finding", "head", "rows")}}
        for figure, view in known["figures"].items()
    ]
    return answer({"study": name, "event": known["event"], "figures": told}, headers={"ETag": tag})


@router.get("/figures/{figure}.svg")
def figure_svg(name: str, figure: str, request: Request, desk: AtDesk) -> Response:
    """One figure as SVG without script or style; its colours are CSS variables such as `--fig-ink`."""
    tag = tag_of(request, desk.store.newest(name))
    if is_known(request, tag):
        return not_modified(tag)
    known = _drawn(desk, name)["figures"]
    if figure not in known:
        raise NotFound(f"{name} has no figure {figure[:80]!r} now.", f"It has {', '.join(known)}.")
    return Response(known[figure]["svg"], headers={"ETag": tag}, media_type="image/svg+xml")


@router.get("/recall/{number}")
def recall(name: str, number: Annotated[int, Path(ge=1, le=1_000_000)], desk: AtDesk, by: By) -> Response:
    """The recall sheet of a trial, a page to be printed."""
    page = recalled(desk.store, name, number, by.stamp())
    return Response(page, headers={"Content-Security-Policy": SHEET_POLICY}, media_type="text/html")


def _drawn(desk: Desk, name: str) -> dict[str, Any]:
    event = desk.store.newest(name)
    return desk.figures.get(("drawn", name, event), lambda: drawn(desk.store, name))
