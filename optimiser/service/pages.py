"""The page, its colours, and whether the service is well."""

from importlib.metadata import version
from pathlib import Path
from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.templating import Jinja2Templates
from starlette.types import Scope

from optimiser.review import CAUTIONS, DARK, HEARING_CAUTION, LIGHT, LOAD_CAUTION, RIBBON_CAUTION, css_variables
from optimiser.service.answers import answer
from optimiser.service.desk import AtDesk

router = APIRouter(tags=["pages"])

FOLDER: Final = Path(__file__).parent
TEMPLATES: Final = Jinja2Templates(FOLDER / "templates")
CHECKED: Final = {"Cache-Control": "no-cache"}
"""Kept by a browser, and asked for again each time: 304 unless it changed."""

_CAUTIONS: Final = {"load": LOAD_CAUTION, "ribbon": RIBBON_CAUTION, "hearing": HEARING_CAUTION}


class PageFiles(StaticFiles):
    """Style sheets and scripts of the page, which a browser may keep."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """The file, or that it has not changed."""
        found = await super().get_response(path, scope)
        found.headers.update(CHECKED)
        return found


@router.get("/", include_in_schema=False)
def page(request: Request) -> Response:
    """The page itself; it holds nothing of a study, and asks for it by the routes below api/."""
    told = {"cautions": CAUTIONS, "here": _CAUTIONS, "version": version("optimiser")}
    return TEMPLATES.TemplateResponse(request, "index.html", told)


@router.get("/colours.css", include_in_schema=False)
def colours(request: Request) -> Response:
    """The palette of the figures, for the whole page."""
    told = {"dark": css_variables(DARK), "light": css_variables(LIGHT)}
    return TEMPLATES.TemplateResponse(request, "colours.css", told, headers=CHECKED, media_type="text/css")


@router.get("/healthz")
def healthz(desk: AtDesk) -> Response:
    """Whether the store can be read."""
    desk.store.place()
    return answer({"ok": True, "version": version("optimiser"), "paired": desk.rules.paired})
