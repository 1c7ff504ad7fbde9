"""The page, and whether the service is well."""

from importlib.metadata import version
from pathlib import Path
from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import Response
from starlette.templating import Jinja2Templates

from optimiser.service.answers import answer
from optimiser.service.desk import AtDesk

router = APIRouter(tags=["pages"])

FOLDER: Final = Path(__file__).parent
TEMPLATES: Final = Jinja2Templates(FOLDER / "templates")


@router.get("/", include_in_schema=False)
def page(request: Request) -> Response:
    """The page itself; it holds nothing of a study, and asks for it by the routes below api/."""
    return TEMPLATES.TemplateResponse(request, "index.html")


@router.get("/healthz")
def healthz(desk: AtDesk) -> Response:
    """Whether the store can be read."""
    desk.store.place()
    return answer({"ok": True, "version": version("optimiser"), "paired": desk.rules.paired})
